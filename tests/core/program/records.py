# SPDX-License-Identifier: Apache-2.0
"""The books on the command line: units, pickups, test discs and corrections are kept as they were said, and found again."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"
ANNA = ("--by", "anna")


with folder() as at:
    store = pathlib.Path(at) / "records.db"

    def records(*arguments):
        return eyelevel("records", *arguments, "--store", store)

    def said(*arguments):
        return as_json(records(*arguments, "--json"))

    # A unit comes and goes.
    taken = said("take-in", "LF2-00417", "--model", "LF-2", "--complaint", "skips on the last tracks", "--hours", 1200, *ANNA)
    expect("a unit is taken in", taken["here"] and taken["visits"][0]["complaint"] == "skips on the last tracks"
           and taken["unit_h"] == 1200 and taken["notices"] == [], taken)
    twice = records("take-in", "LF2-00417", "--model", "LF-2", "--complaint", "hums", *ANNA)
    expect("a second of the same serial is refused, with how to tell them apart",
           twice.returncode == 2 and "has not been handed back" in twice.stderr and "LF2-00417/2" in twice.stderr, twice.stderr)
    other = said("take-in", "LF2-00417", "--model", "LF-5", "--complaint", "hums", *ANNA)
    expect("one of another model is told apart by it", "LF-2" in other["notices"][0] and "--model" in other["notices"][0], other)
    unclear = records("hand-back", "LF2-00417", *ANNA)
    expect("which of the two goes must be said", unclear.returncode == 2 and "LF-2, LF-5" in unclear.stderr, unclear.stderr)
    expect("and then it goes", not said("hand-back", "LF2-00417", "--model", "LF-5", "--because", "plays", *ANNA)["here"])
    nobody = records("take-in", "LF2-00418", "--model", "LF-2", "--complaint", "hums")
    expect("who says it must be said", nobody.returncode == 2 and "--by" in nobody.stderr, nobody.stderr)
    for serial, why in (("LF2\x1b[2J", "control character"), ("x" * 65, "65 characters"), (" ", "is empty"), ("LF2-\u202e714", "control")):
        strange = records("take-in", serial, "--model", "LF-2", "--complaint", "hums", *ANNA)
        expect(f"a strange serial is refused: {why}", strange.returncode == 2 and why in strange.stderr and "\x1b" not in strange.stderr,
               strange.stderr)
    run = eyelevel("run", LEVEL, "--bench", "examples/bench.yaml", "--serial", "LF2\x1b[2J", "--store", store)
    expect("in a run, too", run.returncode == 2 and "control character" in run.stderr and "\x1b" not in run.stderr, run.stderr)

    before = eyelevel("records", "--store", store, "unit", "LF2-00417")
    expect("an option before the part would be overlooked, and is refused",
           before.returncode == 2 and "--store stands before unit" in before.stderr, before.stderr)

    # A pickup moves.
    fitted = said("pickup", "PU-31", "--part", "P-20", "--connector", "11-pin", "--label-current", "48.3 mA", "--fitted-in",
                  "LF2-00417", "--model", "LF-2", "--new", *ANNA)
    expect("a new pickup is fitted with 0 hours and what has to be known",
           abs(fitted["label_current_a"] - 0.0483) < 1e-15 and fitted["stays"][0]["pickup_h"] == 0
           and any("verified, not turned" in n for n in fitted["notices"])
           and any("anti-static short is removed last" in n for n in fitted["notices"]), fitted)
    again = records("pickup", "PU-31", "--fitted-in", "LF2-00500", "--model", "LF-2", *ANNA)
    expect("it cannot be in two units", again.returncode == 2 and "is in LF2-00417" in again.stderr, again.stderr)
    replaced = said("pickup", "PU-32", "--part", "P-20", "--fitted-in", "LF2-00417", "--model", "LF-2", "--unit-hours", 1500, *ANNA)
    expect("another one in its place takes it out", any("PU-31 is taken out" in n for n in replaced["notices"]), replaced)
    moved = said("pickup", "PU-31", "--fitted-in", "LF5-00002", "--model", "LF-5", *ANNA)
    expect("it takes its hours along, into another model", moved["stays"][1]["pickup_h"] == 300 and moved["stays"][1]["model"] == "LF-5", moved)
    expect("a pickup that was used is not new", records("pickup", "PU-32", "--taken-out", *ANNA).returncode == 0
           and records("pickup", "PU-32", "--fitted-in", "LF5-00003", "--model", "LF-5", "--new", *ANNA).returncode == 2)
    amps = records("pickup", "PU-33", "--label-current", "48.3 V", *ANNA)
    expect("a label current in volts is refused", amps.returncode == 2 and "--label-current" in amps.stderr, amps.stderr)

    # Test discs.
    disc = said("disc", "TD-2", "--test-discs", "examples/test-discs.yaml", "--master", "TD-1", "--level", "0.98 ± 0.02",
                "--inspected", "no scratch", "--expires", "2020-01-31", *ANNA)[0]
    expect("a disc has identity, level with its uncertainty, inspection and expiry",
           disc["kind"] == "pressed" and disc["level"] == 0.98 and abs(disc["level_expanded_uncertainty"] - 0.02) < 1e-12
           and disc["inspections"][0]["found"] == "no scratch" and disc["doubts"] == ["it expired on 2020-01-31"], disc)
    nearly = records("disc", "TD-22", "--test-discs", "examples/test-discs.yaml", "--cleaned", "water", *ANNA)
    expect("a disc that is not in the list is told with the nearest", nearly.returncode == 2 and "'TD-2'" in nearly.stderr, nearly.stderr)
    bare = records("disc", "TD-2", "--level", "0.98", *ANNA)
    expect("a level without an uncertainty is refused", bare.returncode == 2 and "0.98 ± 0.02" in bare.stderr, bare.stderr)

    # Runs, found and corrected.
    eyelevel("rehearse", LEVEL, "--seed", "1", "--units", "3", "--store", store)
    runs = said()
    expect("runs say who was at the bench", all(r["operator"] for r in runs), runs)
    judgement = runs[0]["judgement"]
    expect("they are found by model, judgement, operator and day",
           len(said("--model", "LF-2", "--judgement", judgement, "--operator", runs[0]["operator"], "--from", runs[0]["begun_utc"][:10],
                    "--until", runs[0]["begun_utc"][:10])) == sum(r["judgement"] == judgement for r in runs)
           and said("--model", "LF-5") == [] and said("--until", "2020-01-01") == [])
    wrong_day = records("--from", "2030-02-30")
    expect("a day that is none is refused", wrong_day.returncode == 2 and "--from" in wrong_day.stderr, wrong_day.stderr)
    name = runs[0]["run"]
    why = records("correct", name, "--reading", "level_pressed", "--does-not-count", *ANNA)
    expect("a correction needs a reason", why.returncode == 2 and "--because" in why.stderr, why.stderr)
    odd = records("correct", name, "--reading", "level_presed", "--does-not-count", "--because", "x", *ANNA)
    expect("a reading that is not there is told with the nearest", odd.returncode == 2 and "'level_pressed'" in odd.stderr, odd.stderr)
    before = as_json(eyelevel("export", name, "--store", store, "-o", pathlib.Path(at) / "a", "--json"))
    unit = said("correct", name, "--reading", "level_pressed", "--value", "1210 mV", "--because", "misread", *ANNA)
    expect("a correction stands beside what was recorded, with who and why",
           unit["corrections"][0]["value"] == 1.21 and unit["corrections"][0]["by"] == "anna"
           and unit["corrections"][0]["because"] == "misread" and unit["readings"][0]["value"] != 1.21 and before, unit)
    sheet = eyelevel("report", name, "--store", store, "-o", pathlib.Path(at) / "x.svg")
    expect("and the sheet is drawn with it", sheet.returncode == 0, sheet.stderr)
    said("correct", name, "--serial", "LF2-00417", "--because", "the wrong label was scanned", *ANNA)
    found = said("unit", "LF2-00417", "--model", "LF-2")
    expect("a run whose serial was corrected is one of the right unit", [r["run"] for r in found["runs"]] == [name], found)
finish()
