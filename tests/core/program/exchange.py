# SPDX-License-Identifier: Apache-2.0
"""Archives, comparisons and references on the command line."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"
ANNA = ("--by", "anna")

with folder() as at:
    at = pathlib.Path(at)
    store = at / "records.db"
    eyelevel("rehearse", LEVEL, "--seed", "5", "--units", "6", "--store", store)
    eyelevel("records", "take-in", "LF2-00001", "--model", "LF-2", "--complaint", "skips", "--store", store, *ANNA)
    eyelevel("records", "disc", "TD-1", "--master", "TD-1", "--inspected", "fine", "--store", store, *ANNA)

    # Archives.
    whole = at / "whole.eyelevel"
    told = as_json(eyelevel("export", "--archive", whole, "--store", store, "--json"))
    expect("a whole store goes into one file", told["runs"] == 6 and told["entries"] == 3 and told["left"] == 0, told)
    taken = eyelevel("import", whole, "--store", at / "new.db", "--json")
    expect("it is taken in", taken.returncode == 0 and as_json(taken) == {"runs": 6, "entries": 3}, taken.stderr)
    eyelevel("export", "--archive", at / "again.eyelevel", "--store", at / "new.db")
    expect("and exported again it has the same bytes", whole.read_bytes() == (at / "again.eyelevel").read_bytes())
    one = as_json(eyelevel("export", "--serial", "LF2-00001", "--archive", at / "one.eyelevel", "--store", store, "--json"))
    expect("one unit goes out with its books", one["runs"] == 1 and one["entries"] == 1, one)
    lone = eyelevel("export", "--serial", "LF2-00001", "--store", store)
    expect("a search without an archive is a wrong input", lone.returncode == 2, lone.stderr)

    bytes_ = whole.read_bytes()
    (at / "cut.eyelevel").write_bytes(bytes_[:len(bytes_) // 2])
    cut = eyelevel("import", at / "cut.eyelevel", "--store", at / "cut.db")
    expect("one that is cut is refused with the line, and nothing is taken in",
           cut.returncode == 2 and "cut.eyelevel:" in cut.stderr and "cut" in cut.stderr
           and as_json(eyelevel("records", "--store", at / "cut.db", "--json")) == [], cut.stderr)
    damaged = bytearray(bytes_)
    damaged[len(damaged) // 3] ^= 1
    (at / "bad.eyelevel").write_bytes(damaged)
    bad = eyelevel("import", at / "bad.eyelevel", "--store", at / "cut.db")
    expect("one that is damaged, too", bad.returncode == 2 and "damaged" in bad.stderr
           and as_json(eyelevel("records", "--store", at / "cut.db", "--json")) == [], bad.stderr)
    no = eyelevel("import", "README.md", "--store", at / "cut.db")
    expect("another file is no archive", no.returncode == 2 and "no archive" in no.stderr, no.stderr)

    # Comparisons.
    runs = [r["run"] for r in as_json(eyelevel("records", "--store", store, "--json"))]
    seen = as_json(eyelevel("compare", runs[1], runs[0], "--store", store, "--json"))
    pair = next(r for r in seen["readings"] if r["name"] == "level_pressed")
    expect("two runs of one sequence are compared", abs(pair["difference"]["value"] - (pair["b"]["value"] - pair["a"]["value"])) < 1e-12
           and pair["difference"]["expanded_uncertainty"] > 0 and not any(u["forbids"] for u in seen["unlike"]), seen)
    expect("and for people", "level_pressed" in eyelevel("compare", runs[1], "last", "--store", store).stdout)
    eyelevel("rehearse", "sequences/ready/level-on-two-discs.yaml", "--seed", "5", "--store", store)
    other = eyelevel("compare", runs[0], "last", "--store", store)
    expect("of two sequences not, unless somebody says so", other.returncode == 2 and "sequence: pickup-level | level-on-two-discs" in other.stderr
           and eyelevel("compare", runs[0], "last", "--anyway", "--store", store).returncode == 0, other.stderr)

    # References.
    def reference(*arguments):
        return eyelevel("reference", *arguments, "--store", store)

    named = [w for run in runs for w in ("--run", run)]
    built = as_json(reference("build", "LF-2", "--reading", "level_pressed", "--disc", "pressed", *named, "--provenance", "factory-set",
                              "--expires", "2099-12-31", "--json", *ANNA))
    kept = built["references"][0]
    expect("limits are built from units, with where they come from",
           len(kept["units"]) == 6 and kept["at_least"] < kept["mean"] < kept["at_most"] and kept["provenance"] == "factory-set"
           and kept["unit"] == "V" and kept["stands"] and kept["share"] == 0.95, built)
    two = as_json(reference("build", "LF-2", "--reading", "level_pressed", "--disc", "two", *named[:4], "--json", *ANNA))
    expect("two units are warned of", any("only two units" in w for w in two["warnings"]), two)
    single = reference("build", "LF-2", "--reading", "level_pressed", *named[:2], *ANNA)
    expect("one gives none", single.returncode == 2 and "one unit" in single.stderr, single.stderr)
    bare = reference("set", "LF-2", "--reading", "level_pressed", "--at-least", "1.08", "--service-data", "service manual LF-2, 5.2", *ANNA)
    expect("a limit without a unit is refused", bare.returncode == 2 and "has no unit" in bare.stderr and "'1.08 V'" in bare.stderr, bare.stderr)
    mixed = reference("set", "LF-2", "--reading", "level_pressed", "--at-least", "1.08 V", "--at-most", "2 s", "--service-data", "x", *ANNA)
    expect("and so are two units of measure", mixed.returncode == 2 and "two kinds" in mixed.stderr, mixed.stderr)
    crossed = reference("set", "LF-2", "--reading", "level_pressed", "--at-least", "2 V", "--at-most", "1 V", "--service-data", "x", *ANNA)
    expect("and sides that cross", crossed.returncode == 2, crossed.stderr)
    by_hand = as_json(reference("set", "LF-2", "--reading", "level_pressed", "--disc", "pressed", "--at-least", "3.0 V", "--at-most", "3200 mV",
                                "--service-data", "service manual LF-2, 5.2", "--read-as", "outer edges", "--setting", "pickup-level",
                                "--json", *ANNA))
    service = next(r for r in by_hand["references"] if r["source"] == "service data")
    units = next(r for r in by_hand["references"] if r["source"] == "units" and r["disc"] == "pressed")
    expect("service data win, and a contradiction is told", service["stands"] and not units["stands"] and service["at_most"] == 3.2
           and any("no value meets both" in w for w in by_hand["warnings"]), by_hand)
    gone = as_json(reference("withdraw", "LF-2", "--reading", "level_pressed", "--disc", "pressed", "--setting", "pickup-level",
                             "--source", "service data", "--because", "of another model", "--json", *ANNA))
    expect("until they are withdrawn", next(r for r in gone["references"] if r["disc"] == "pressed")["stands"], gone)
    listed = eyelevel("reference", "--store", store)
    expect("what stands is listed for people", "LF-2 level_pressed: " in listed.stdout and "6 units" in listed.stdout, listed.stdout)
finish()
