# SPDX-License-Identifier: Apache-2.0
"""`eyelevel rehearse --expect`: met and not met, the line that repeats, mistakes with their place, JUnit; the example of a CI job."""
import os
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = TOP / "sequences/ready/pickup-level.yaml"
CASES = f"""expectations: Good days and bad
sequence: {LEVEL}
cases:
  - name: a dead laser shows no eye
    seed: 11
    units: 2
    troubles: [ laser dead ]
    told: no eye
  - name: a dead laser passes
    seed: 11
    troubles: [ laser dead ]
    judgement: pass
"""


def valid(junit):
    schema = TOP / "tests/data/junit/junit.xsd"
    return subprocess.run(["xmllint", "--noout", "--schema", schema, junit], capture_output=True).returncode == 0


with folder() as at:
    at = pathlib.Path(at)
    (at / "level.yaml").write_text(CASES)
    done = eyelevel("rehearse", "--expect", at, "--junit", at / "out.xml")
    expect("what is met and what is not is told, with why and how to repeat it", done.returncode == 1 and all(words in done.stdout for words in (
        f"met      {at}/level.yaml:4: a dead laser shows no eye", f"NOT MET  {at}/level.yaml:9: a dead laser passes", "judged none, not pass",
        f"again: eyelevel rehearse {LEVEL} --trouble 'laser dead' --seed 11", "2 expectations, 1 not met")), done.stdout + done.stderr)
    expect("the JUnit file holds against the schema and counts the failure",
           valid(at / "out.xml") and 'tests="2" failures="1"' in (at / "out.xml").read_text())
    result = as_json(eyelevel("rehearse", "--expect", at, "--json"))
    expect("JSON says the same", result["not_met"] == 1 and [e["met"] for e in result["expectations"]] == [True, False], result)
    repeated = eyelevel("rehearse", LEVEL, "--trouble", "laser dead", "--seed", 11, "--json")
    expect("the line that repeats it repeats it", as_json(repeated)["units"][0]["judgement"] is None)

    (at / "level.yaml").write_text(CASES.replace("told:", "tells:").replace("[ laser dead ]", "[ laser deed ]"))
    bad = eyelevel("rehearse", "--expect", at)
    expect("every mistake stands at its place", bad.returncode == 2 and f"{at}/level.yaml:8:5: unknown key 'tells'" in bad.stderr
           and bad.stdout == "", bad.stderr)
    expect("check knows the file, too", eyelevel("check", at / "level.yaml").returncode == 2)
    (at / "level.yaml").write_text(CASES.replace(str(LEVEL), "no-such.yaml"))
    expect("a sequence that is not there is a wrong input", eyelevel("rehearse", "--expect", at).returncode == 2)
    (at / "level.yaml").write_text(CASES)
    other = eyelevel("rehearse", "sequences/ready/bench-proof.yaml", "--expect", at)
    expect("with a sequence, only its own; none is a wrong input", other.returncode == 2 and "no expectations of" in other.stderr, other.stderr)
    empty = at / "empty"
    empty.mkdir()
    expect("an empty folder is a wrong input", eyelevel("rehearse", "--expect", empty).returncode == 2)
    expect("so is one that is not there", eyelevel("rehearse", "--expect", at / "nowhere").returncode == 2)
    expect("a seed of one's own is refused", eyelevel("rehearse", "--expect", at, "--seed", 3).returncode == 2)

    job = subprocess.run([TOP / "examples/ci-job", PROGRAM, at / "reports"], capture_output=True, text=True, cwd=at, timeout=250,
                         env={**os.environ, "UNITS": "5"})
    expect("the example of a CI job passes", job.returncode == 0, job.stdout[-2000:] + job.stderr[-2000:])
    reports = list((at / "reports").glob("*.xml"))
    expect("and leaves JUnit files that hold against the schema", len(reports) >= 6 and all(map(valid, reports)), reports)
finish()
