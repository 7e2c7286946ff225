#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""Plugins as users meet them: listed with their origin, refused with the reason, checked, run; and those that misbehave
in a run: an error of their step that names them, with every instrument safe afterwards."""
import json
import pathlib
import shutil
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, as_json, expect, eyelevel, finish, folder

EXAMPLES = TOP / "examples/plugins"
IN_C = TOP / "examples/plugins-in-c"
BUILT = pathlib.Path(PROGRAM).resolve().parents[1] / "plugins"
HOSTILE = TOP / "tests/instruments/plugin/hostile_plugin.py"


def hostile(parent, mood):
    place = pathlib.Path(parent) / "hostile"
    place.mkdir(mode=0o755)
    (place / "plugin.yaml").write_text(
        "plugin: hostile\nabout: misbehaves\nform: process\nprogram: hostile_plugin.py\nanswers within: 5 s\n")
    shutil.copy(HOSTILE, place)
    for file in place.iterdir():
        file.chmod(0o755)
    (place / "mood").write_text(mood)
    return place


def sequence(parent):
    path = pathlib.Path(parent) / "poke.yaml"
    path.write_text(
        "sequence: poke\nabout: asks a plugin\nneeds:\n  scope: { kind: oscilloscope }\nsignals:\n  rf: scope channel 1\n"
        "opening:\n  - set up: rf\n    probe: x10\n    coupling: dc\n    screen: 0.6 V to 2.6 V at the probe tip\n"
        "    within: 5 s\nsteps:\n  - poke: it\n    within: 30 s\n    name it: poked\n"
        "closing:\n  - make safe: every instrument\n    within: 10 s\n")
    return path


def listed():
    shown = as_json(eyelevel("plugins", "--plugins", EXAMPLES, "--json"))
    origin = {(r["kind"], r["name"]): r["from"] for r in shown["registered"]}
    expect("what is shipped is listed as built in", origin[("verb", "prompt")] == "built in", origin)
    expect("what a plugin adds is listed with the plugin", origin[("measure", "level spread")] == "plugin waveform-extras", origin)
    names = {p["name"]: p["form"] for p in shown["plugins"]}
    expect("plugins are listed with their form", names["waveform-extras"] == "process", names)
    expect("none is refused", shown["refused"] == [], shown["refused"])
    one = eyelevel("plugins", "level spread", "--plugins", EXAMPLES)
    expect("one part is explained with its keys", "leave out above" in one.stdout and "as in leave out above: 1.8 V" in one.stdout,
           one.stdout)
    none = eyelevel("plugins", "no such", "--plugins", EXAMPLES)
    expect("an unknown part is wrong input", none.returncode == 2, none.stderr)
    schema = json.loads(eyelevel("plugins", "--schema", "--plugins", EXAMPLES).stdout)
    expect("the schema has the plugin's verb", "light share" in json.dumps(schema))


def refused():
    with folder() as parent:
        place = hostile(parent, "good")
        (place / "hostile_plugin.py").chmod(0o777)
        shown = eyelevel("plugins", "--plugins", parent)
        expect("a program that others may write is refused with the reason and exit status 1",
               shown.returncode == 1 and "may be written by others" in shown.stdout, shown.stdout)
        told = eyelevel("check", sequence(parent), "--plugins", parent)
        expect("check says that the plugin was refused, and that its verb is unknown",
               "is refused" in told.stderr and "unknown verb 'poke'" in told.stdout and told.returncode == 2,
               told.stdout + told.stderr)
    with folder() as parent:
        place = hostile(parent, "good")
        script = place / "hostile_plugin.py"
        script.write_text(script.read_text().replace('"name": "poke"', '"name": "prompt"'))
        shown = as_json(eyelevel("plugins", "--plugins", parent, "--json"))
        expect("a plugin whose name is taken is refused whole", "the name is taken" in shown["refused"][0]["why"]
               and shown["plugins"] == [], shown["refused"])
    missing = eyelevel("plugins", "--plugins", "/no/such/folder")
    expect("a folder that is not there is told", missing.returncode == 1 and "no such folder" in missing.stdout, missing.stdout)


def ready():
    check = eyelevel("check", EXAMPLES / "level-spread.yaml", "--plugins", EXAMPLES)
    expect("the example checks with its plugin", check.returncode == 0, check.stdout + check.stderr)
    bare = eyelevel("check", EXAMPLES / "level-spread.yaml")
    expect("and not without it", bare.returncode == 2 and "unknown verb 'light share'" in bare.stdout, bare.stdout)
    run = as_json(eyelevel("rehearse", EXAMPLES / "level-spread.yaml", "--plugins", EXAMPLES, "--seed", 7, "--units", 6, "--json"))
    for unit in run["units"]:
        values = {r["name"]: r for r in unit["readings"]}
        share = values["share"]
        expect("the share is the level over 1.6 V, with the uncertainty of the level",
               abs(share["value"] - values["level_pressed"]["value"] / 1.6) < 1e-9
               and abs(share["standard_uncertainty"] - values["level_pressed"]["standard_uncertainty"] / 1.6) < 1e-6, values)
    expect("the line that repeats it names the plugins", "--plugins" in run["again"], run["again"])


def misbehaving():
    for mood, words in [("crash", "it ended by signal 11"), ("hang", "it hangs"), ("garbage", "it is no JSON"),
                        ("flood", "it floods"), ("other id", "it answers question 3"), ("wrong unit", "the reading is in 'A'"),
                        ("minus", "the standard uncertainty is -1"), ("refuse", "it says: cannot")]:
        with folder() as parent:
            hostile(parent, mood)
            run = eyelevel("rehearse", sequence(parent), "--plugins", parent, "--seed", 1, "--json")
            unit = as_json(run)["units"][0]
            error = unit["error"] or {"message": "", "where": ""}
            expect(f"{mood}: an error of its step that names plugin and step", words in error["message"]
                   and "plugin hostile" in error["where"] and 'step "poke: it"' in error["where"], error)
            expect(f"{mood}: the run is stopped", unit["ended"] == "stopped", unit["ended"])
            story = eyelevel("rehearse", sequence(parent), "--plugins", parent, "--seed", 1)
            expect(f"{mood}: every instrument was left safe", "every instrument was left safe" in story.stdout, story.stdout)


def tried():
    good = eyelevel("plugins", "--try", EXAMPLES / "waveform-extras")
    expect("the example keeps the contract", good.returncode == 0 and "WRONG" not in good.stdout, good.stdout)
    with folder() as parent:
        bad = eyelevel("plugins", "--try", hostile(parent, "hang"), "--json")
        findings = json.loads(bad.stdout)
        expect("a plugin that hangs does not", bad.returncode == 1 and any("it hangs" in f["seen"] for f in findings), bad.stdout)


def library():
    run = as_json(eyelevel("rehearse", IN_C / "rise-time.yaml", "--plugins", BUILT, "--seed", 3, "--json"))
    unit = run["units"][0]
    rise = next((r for r in unit["readings"] if r["name"] == "rise"), None)
    expect("the measure in C gives a rise time", rise and 0 < rise["value"] < 1e-5 and rise["unit"] == "s", unit)
    asked = eyelevel("ask", "PLUGIN::shelf::top", "*IDN?", "--plugins", BUILT)
    expect("the transport in C carries a query", asked.stdout == "Lanternfield,Shelf (made up),top,1.0\n", asked.stdout + asked.stderr)
    none = eyelevel("ask", "PLUGIN::shelf::middle", "*IDN?", "--plugins", BUILT)
    expect("and says what it cannot reach", none.returncode == 3 and "no middle" in none.stderr, none.stderr)
    with folder() as parent:
        done = eyelevel("run", IN_C / "shelf-meter.yaml", "--bench", IN_C / "shelf-bench.yaml", "--plugins", BUILT,
                        "--store", pathlib.Path(parent) / "s.db", "--json")
        unit = as_json(done)["units"][0]
        # Put right for the load on the pad, a tenth of a thousandth.
        expect("the driver in C is read by a sequence", done.returncode == 0 and unit["judgement"] == "pass"
               and abs(unit["readings"][0]["value"] - 1.25) < 1e-3, done.stdout + done.stderr)
        other = eyelevel("run", IN_C / "shelf-meter.yaml", "--bench", IN_C / "shelf-bench.yaml", "--plugins", EXAMPLES,
                         "--store", pathlib.Path(parent) / "s.db", "--json")
        expect("without its plugin the bench cannot be used", other.returncode in (2, 3) and "shelf" in other.stdout + other.stderr,
               other.stdout + other.stderr)
    checked = eyelevel("check", EXAMPLES / "waveform-extras/plugin.yaml", IN_C / "edge-library/plugin.yaml")
    expect("manifests check", checked.returncode == 0, checked.stdout)


def nobody_stays():
    with folder() as parent:
        place = hostile(parent, "hang")
        eyelevel("rehearse", sequence(parent), "--plugins", parent, "--seed", 1)
        left = [p for p in pathlib.Path("/proc").glob("[0-9]*/cwd") if p.exists() and p.resolve() == place.resolve()]
        expect("no process of the plugin is left behind", left == [], left)


listed()
refused()
ready()
tried()
library()
misbehaving()
nobody_stays()
finish()
