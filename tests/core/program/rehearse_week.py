# SPDX-License-Identifier: Apache-2.0
"""`eyelevel rehearse --week`: the played week of the examples, and that the tool finds in it what its README says it finds."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

WEEK = TOP / "examples/week/week.yaml"

with folder() as at:
    store = pathlib.Path(at) / "week.db"
    played = eyelevel("rehearse", "--week", WEEK, "--store", store)
    lines = played.stdout.splitlines()
    expect("each run is told in a line, and at the end that nothing of it was measured",
           played.returncode == 0 and "bench 2" in lines[1] and "a simulator's, not measured" in lines[-1], played.stdout + played.stderr)
    again = eyelevel("rehearse", "--week", WEEK, "--store", store)
    expect("a store that holds runs is left alone", again.returncode == 2 and "holds runs already" in again.stderr, again.stderr)

    found = as_json(eyelevel("workshop", "--store", store, "--check-unit", "LF2-CHECK", "--json"))
    told = found["sentences"]
    expect("the bench that drifts is named first, by its check unit, with the day",
           told[0].startswith("bench 2 reads the check unit LF2-CHECK") and "low" in told[0], told)
    expect("no other bench is", not any(s.startswith(("bench 1", "bench 3")) for s in told), told)
    expect("the person with the bad habit is named", any(s.startswith("ben reads") and "lower than the others" in s for s in told), told)
    expect("nobody else is", not any(name in s for s in told for name in ("anna", "cem", "dora")), told)
    expect("the bad lot is named", any(s.startswith("Units with a pickup of LF-P2 lot 29-38 read") and "lower" in s for s in told), told)
    expect("nothing else is", len(told) == 4 and "does not lie well within" in told[3], told)
    lots = {one["of"]: one for one in found["yield"]["units_by_lot"]}
    expect("each unit is counted once", sum(one[k] for one in lots.values() for k in ("passed", "failed", "undecided", "not_judged")) <= 40, lots)

    records = as_json(eyelevel("records", "--store", store, "--serial", "LF2-00040", "--json"))
    expect("a unit's runs are found, with who and where", records and records[0]["model"] == "LF-2", records)

    bad = pathlib.Path(at) / "bad.yaml"
    bad.write_text(WEEK.read_text().replace("wrong disc", "wrong disk"))
    refused = eyelevel("rehearse", "--week", bad, "--store", pathlib.Path(at) / "other.db")
    expect("a mistake stands at its place, and no store is made", refused.returncode == 2 and f"{bad}:" in refused.stderr
           and "did you mean 'wrong disc'" in refused.stderr and not (pathlib.Path(at) / "other.db").exists(), refused.stderr)
    expect("check knows the file", eyelevel("check", WEEK).returncode == 0)
finish()
