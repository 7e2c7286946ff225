# SPDX-License-Identifier: Apache-2.0
"""`eyelevel rehearse`: the JSON of the contract, the same seed twice, troubles, JUnit; then records, report and export."""
import json
import pathlib
import subprocess
import sys
import xml.etree.ElementTree

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"


def without_clock(result):
    for unit in result["units"]:
        unit.pop("wall_s"), unit.pop("run")
    return json.dumps(result)


first = eyelevel("rehearse", LEVEL, "--units", 3, "--seed", 7, "--json")
second = eyelevel("rehearse", LEVEL, "--units", 3, "--seed", 7, "--json")
result = as_json(first)
expect("exit status 0 when every unit ended as its truth demands", first.returncode == 0, first.stderr)
expect("sequence, seed and the line that repeats it", result["sequence"] == "pickup-level" and result["seed"] == 7
       and result["again"].startswith("eyelevel rehearse ") and "--seed 7" in result["again"], result["again"])
expect("the same seed gives the same bytes apart from wall_s and run", without_clock(result) == without_clock(as_json(second)))
unit = as_json(first)["units"][0]
expect("a unit has the keys of the contract", set(unit) >= {"serial", "model", "run", "ended", "judgement", "simulated_s", "wall_s",
                                                           "readings", "findings", "error", "truth"}, sorted(unit))
reading = unit["readings"][0]
expect("a reading has the keys of the contract",
       set(reading) >= {"name", "value", "unit", "standard_uncertainty", "expanded_uncertainty", "coverage_probability", "count",
                        "at_least", "at_most", "judgement"}, sorted(reading))
expect("64 captures stand behind the level, in volts", reading["count"] == 64 and reading["unit"] == "V"
       and reading["coverage_probability"] == 0.95, reading)
expect("the truth of the reading is told", abs(unit["truth"]["readings"]["level_pressed"] - reading["value"]) < 0.1, unit["truth"])

high = as_json(eyelevel("rehearse", LEVEL, "--seed", 3, "--trouble", "level too high", "--json"))["units"][0]
expect("a level that is too high never passes", high["judgement"] in ("fail", "undecided") and high["truth"]["troubles"] == ["level too high"], high)
silent = eyelevel("rehearse", LEVEL, "--seed", 3, "--trouble", "scope silent", "--json")
unit = as_json(silent)["units"][0]
expect("a silent oscilloscope stops the run, is told, and is as demanded", silent.returncode == 0 and unit["ended"] == "stopped"
       and unit["judgement"] is None and unit["error"]["code"] == "time_out", unit["error"])
listed = as_json(eyelevel("rehearse", "--list-troubles", "--json"))
expect("troubles are listed with what happens, what is told and what must hold",
       len(listed) >= 50 and all(t["name"] and t["about"] and t["told"] and t["must"] for t in listed), listed)
dead = eyelevel("rehearse", LEVEL, "--seed", 3, "--units", 3, "--trouble", "laser dead", "--json")
result = as_json(dead)
expect("a trouble that is caught is counted as caught and named, and no unit passes wrongly",
       dead.returncode == 0 and result["troubles"] == [{"name": "laser dead", "units": 3, "caught_and_named": 3, "caught_named_wrongly": 0,
                                                        "harmless": 0, "left_to_the_bench_proof": 0, "wrong_pass": 0}]
       and result["wrong_passes"] == 0 and result["endings"]["stopped"] == 3, result["troubles"])
steps = {s["step"].split(":")[0]: s["reached"] for s in result["coverage"]["steps"]}
expect("coverage names the steps that no unit reached", steps["wait for"] == 3 and steps["capture"] == 0 and steps["make safe"] == 3, steps)
expect("each unit says what became of it and how to repeat it", all(
    u["caught"] == "caught and named" and u["wrong"] is None and "--trouble 'laser dead'" in u["again"] for u in result["units"]))
told = eyelevel("rehearse", LEVEL, "--seed", 3, "--units", 3, "--trouble", "laser dead").stdout
expect("the table, what was not reached, and the time are told", all(words in told for words in (
    "laser dead", "caught", "not reached: sequences/ready/pickup-level.yaml:31: capture", "3 units in", "0 passed wrongly")), told)
full = eyelevel("rehearse", LEVEL, "--seed", 3, "--trouble", "store full", "--json")
expect("a full store is as demanded, and what it could not take is told", full.returncode == 0
       and as_json(full)["units"][0]["error"]["code"] == "not_recording", full.stderr)
unknown = eyelevel("rehearse", LEVEL, "--trouble", "level to high")
expect("an unknown trouble is a wrong input with the nearest name", unknown.returncode == 2 and "level too high" in unknown.stderr,
       unknown.stderr)

with folder() as at:
    at = pathlib.Path(at)
    store = at / "records.db"
    done = eyelevel("rehearse", LEVEL, "--seed", 7, "--units", 2, "--store", store, "--junit", at / "units.xml")
    expect("units are told in words", done.returncode == 0 and "LF2-00002: finished" in done.stdout and "again: " in done.stdout, done.stdout)
    suite = xml.etree.ElementTree.parse(at / "units.xml").getroot()
    # xmllint (libxml2) and its own validator of XML Schema; the file says where the schema comes from.
    against = ["xmllint", "--noout", "--schema", pathlib.Path(__file__).resolve().parents[2] / "data/junit/junit.xsd"]
    valid = subprocess.run([*against, at / "units.xml"], capture_output=True, text=True)
    expect("the JUnit file holds against the schema", valid.returncode == 0, valid.stderr)
    (at / "bad.xml").write_text((at / "units.xml").read_text().replace(' errors="0"', ""))
    expect("the schema refuses a file without its counts", subprocess.run([*against, at / "bad.xml"], capture_output=True).returncode == 3)
    expect("JUnit says the same", suite.tag == "testsuite" and suite.get("tests") == "2" and suite.get("failures") == "0", suite.attrib)
    runs = as_json(eyelevel("records", "--store", store, "--json"))
    expect("both runs are in the record", len(runs) == 2 and {r["serial"] for r in runs} == {"LF2-00001", "LF2-00002"}, runs)
    sheet = eyelevel("report", "last", "--store", store, "-o", at / "sheet.png")
    expect("the sheet is a PNG", sheet.returncode == 0 and (at / "sheet.png").read_bytes()[:4] == b"\x89PNG", sheet.stderr)
    sheet = eyelevel("report", "last", "--store", store, "-o", at / "sheet.pdf")
    expect("the sheet is a PDF", sheet.returncode == 0 and (at / "sheet.pdf").read_bytes()[:5] == b"%PDF-", sheet.stderr)
    out = eyelevel("export", "last", "--store", store, "-o", at / "files")
    captures = sorted((at / "files").glob("*.npy"))
    expect("readings, JSON and captures are exported", out.returncode == 0 and len(captures) >= 64
           and list((at / "files").glob("*.csv")) and list((at / "files").glob("*.json")), out.stderr)
    again = as_json(eyelevel("analyse", captures[0], "--json"))
    expect("what export wrote, analyse reads, and finds a level", again["level"]["peak_to_peak_v"] is not None, again["warnings"])
    missing = eyelevel("report", "2031-01-01-9", "--store", store)
    expect("a run that is not there is a wrong input", missing.returncode == 2, missing.stderr)
finish()
