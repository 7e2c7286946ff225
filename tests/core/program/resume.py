# SPDX-License-Identifier: Apache-2.0
"""A run that is killed, stopped after a step, or paused; gone on with by `--resume`. Answers by name, and an enclosure."""
import pathlib
import signal
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

SEQUENCE = """sequence: in-two-halves
about: A direct voltage now and later
needs:
  meter: { kind: multimeter }
signals:
  dc: meter
asked at start:
  most: { about: highest level, usual: 5 V, allowed: 1 V to 9 V }
limits:
  alive: 0 V to most
opening:
  - set up: dc
    range: 5 V
    aperture: 20 ms
    within: 5 s
steps:
  - prompt: Is the lens clean?
    answer: yes or no
    within: 1 min
    name it: clean
  - enclose: photo of the lens
    as: lens
    within: 1 min
  - measure: d.c. level of dc
    over: 1 s
    within: 20 s
    name it: first
    must meet: alive
  - prompt: Warm up, then go on
    within: 10 min
    resume here: yes
  - measure: d.c. level of dc
    over: 1 s
    within: 20 s
    name it: second
  - work out: second - first
    name it: change
  - if: clean is yes
    then:
      - note: the lens was clean
closing:
  - make safe: every instrument
    within: 10 s
"""


def start(*more):
    return subprocess.Popen([PROGRAM, "run", str(sequence), "--bench", str(bench), "--store", str(store), "--json", *more], cwd=TOP,
                            text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def until(process, words):
    shown = ""
    while words not in shown:
        character = process.stderr.read(1)
        if not character:
            break
        shown += character
    return shown


def to_the_middle(process):
    until(process, "yes or no: ")
    process.stdin.write("maybe\n")
    process.stdin.flush()
    again = until(process, "yes or no: ")
    process.stdin.write("Yes\n")
    process.stdin.flush()
    until(process, "the name of a file: ")
    process.stdin.write(f"'{at / 'lens.jpg'}'\n")
    process.stdin.flush()
    return again + until(process, "then press Enter: ")


with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    bench, store, sequence = sim.bench_file(at), at / "records.db", at / "halves.yaml"
    sequence.write_text(SEQUENCE)
    (at / "lens.jpg").write_bytes(b"\xff\xd8\x00\x01")

    killed = start("--serial", "LF2-00417", "--set", "most=4 V")
    shown = to_the_middle(killed)
    expect("an answer that is none is asked for again with the reason", "'maybe' is no answer to it; answer yes or no" in shown, shown)
    killed.kill()
    killed.wait()
    broken = as_json(eyelevel("records", "--store", store, "--json"))[0]
    expect("a killed run is in the record, not closed", broken["ended"] is None, broken)

    other = at / "other.yaml"
    other.write_text(SEQUENCE.replace("go on", "proceed"))
    refused = eyelevel("run", other, "--bench", bench, "--store", store, "--resume", "last")
    expect("another sequence cannot go on with it", refused.returncode == 2 and "is not the sequence" in refused.stderr, refused.stderr)
    for more, words in (("--serial", "LF2-1"), "is of the unit LF2-00417"), (("--set", "most=3 V"), "stays as it was"):
        refused = eyelevel("run", sequence, "--bench", bench, "--store", store, "--resume", "last", *more)
        expect(f"{more[0]} cannot be changed half way", refused.returncode == 2 and words in refused.stderr, refused.stderr)
    (at / "answers.yaml").write_text("answers:\n  Warm up, then go on: done\n")
    done = eyelevel("run", sequence, "--bench", bench, "--store", store, "--resume", "last", "--answers", at / "answers.yaml", "--json")
    unit = as_json(done)["units"][0]
    names = [r["name"] for r in unit["readings"]]
    expect("the resumed run has the readings of both halves", unit["ended"] == "finished" and names == ["first", "second", "change"], done.stdout)
    expect("it keeps serial and what was set at the start", unit["serial"] == "LF2-00417" and unit["readings"][0]["at_most"] == 4, unit)
    expect("it says which run it goes on from", unit["goes_on_from"] == broken["run"], unit)
    expect("and keeps what the operator told", [(a["name"], a["answer"]) for a in unit["answers"]] == [("clean", "yes")], unit)
    refused = eyelevel("run", sequence, "--bench", bench, "--store", store, "--resume", "last")
    expect("a finished run has nothing to go on with", refused.returncode == 2 and "finished, nothing is left" in refused.stderr,
           refused.stderr)

    (at / "by-name.yaml").write_text(f"answers:\n  clean: no\n  lens: {at / 'lens.jpg'}\n")
    by_name = eyelevel("run", sequence, "--bench", bench, "--store", store, "--answers", at / "by-name.yaml", "--json")
    unit = as_json(by_name)["units"][0]
    expect("answers are given by name", [(a["name"], a["answer"]) for a in unit["answers"]] == [("clean", "no")], by_name.stdout)
    eyelevel("export", "last", "--store", store, "-o", at / "out")
    enclosed = [p for p in (at / "out").iterdir() if "-lens-" in p.name]
    expect("what was enclosed is exported byte by byte", len(enclosed) == 1 and enclosed[0].suffix == ".jpg"
           and enclosed[0].read_bytes() == b"\xff\xd8\x00\x01", list((at / "out").iterdir()))
    (at / "few.yaml").write_text("answers:\n  clean: perhaps\n")
    few = eyelevel("run", sequence, "--bench", bench, "--store", store, "--answers", at / "few.yaml", "--json")
    expect("a wrong answer in the file stops the run and names the file", few.returncode == 3 and "few.yaml: 'perhaps'"
           in as_json(few)["units"][0]["error"]["message"], few.stdout)

    stopped = start()
    to_the_middle(stopped)
    stopped.send_signal(signal.SIGQUIT)
    until(stopped, "stopping after this step")
    out, err = stopped.communicate("\n", timeout=30)
    expect("a stop after the step lets it end and closes the run", stopped.returncode == 3 and '"stopped"' in out, out + err)

    paused = start()
    to_the_middle(paused)
    paused.send_signal(signal.SIGTSTP)
    until(paused, "pausing before the next step")
    paused.stdin.write("\n")
    paused.stdin.flush()
    paused.send_signal(signal.SIGTSTP)
    out, err = paused.communicate(timeout=30)
    expect("a paused run goes on by the same key", paused.returncode == 0, out + err)
finish()
