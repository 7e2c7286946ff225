# SPDX-License-Identifier: Apache-2.0
"""Output that nobody gets: a full disk, a closed stream, a reader that went away. The exit status never says that all went well,
one sentence on standard error says why, and a run under way is not disturbed by it."""
import os
import pathlib
import signal
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"
LOST = "not all of the output could be written"


def without(number, *arguments, **more):
    """Runs with that standard stream closed."""
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=TOP, text=True, timeout=100, preexec_fn=lambda: os.close(number), **more)


def onto(path, *arguments):
    with open(path, "w") as out:
        return subprocess.run([PROGRAM, *map(str, arguments)], cwd=TOP, text=True, timeout=100, stdout=out, stderr=subprocess.PIPE)


COMMANDS = (("check", LEVEL), ("rehearse", LEVEL, "--seed", 1), ("rehearse", LEVEL, "--seed", 1, "--json"),
            ("rehearse", "--list-troubles"), ("analyse", "tests/data/waveforms/short-capture.npy"), ("--help",), ("--version",),
            ("sim", "examples/bench.yaml", "--any-port", "--json"))
for command in COMMANDS:
    full = onto("/dev/full", *command)
    expect(f"{' '.join(map(str, command))} into a full disk ends with 3 and says so", full.returncode == 3 and LOST in full.stderr,
           f"{full.returncode} {full.stderr}")
refused = onto("/dev/full", "check", "nowhere.yaml")
expect("a wrong input stays a wrong input, whatever becomes of its output", refused.returncode == 2, refused.stderr)

with folder() as at:
    at = pathlib.Path(at)
    closed = without(1, "rehearse", LEVEL, "--seed", 1, "--json", "--store", at / "s.db", stderr=subprocess.PIPE)
    expect("with standard output closed: 3, a sentence, and nothing of it in the store", closed.returncode == 3 and LOST in closed.stderr
           and (at / "s.db").read_bytes()[:15] == b"SQLite format 3", closed.stderr)
    expect("the record is whole all the same", as_json(eyelevel("records", "--store", at / "s.db", "--json"))[0]["ended"] == "finished")
    closed = without(2, "check", "nowhere.yaml", stdout=subprocess.PIPE)
    expect("with standard error closed the exit status is as ever", closed.returncode == 2, closed.returncode)
    closed = without(2, "rehearse", LEVEL, "--trouble", "nonsense", stdout=subprocess.PIPE)
    expect("so it is where the message has no place", closed.returncode == 2, closed.returncode)
    closed = without(0, "rehearse", LEVEL, "--seed", 1, "--json", stdout=subprocess.PIPE)
    expect("standard input is not needed to rehearse", closed.returncode == 0, closed.returncode)

    many = subprocess.Popen([PROGRAM, "rehearse", LEVEL, "--units", "200", "--seed", "1"], cwd=TOP, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True)
    many.stdout.close()
    error = many.stderr.read()
    expect("a reader that went away ends a long rehearsal with 3", many.wait(100) == 3 and LOST in error, error)

with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    (at / "answers.yaml").write_text("answers: [done]\n")
    run = ("run", LEVEL, "--bench", sim.bench_file(at), "--store", at / "s.db")
    lost = onto("/dev/full", *run, "--answers", at / "answers.yaml")
    runs = as_json(eyelevel("records", "--store", at / "s.db", "--json"))
    expect("a run whose story is lost is finished, judged and recorded; its exit status says that output was lost",
           lost.returncode == 3 and LOST in lost.stderr and runs[0]["ended"] == "finished" and runs[0]["judgement"], f"{lost} {runs}")
    unseen = without(2, *run, "--json", stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    unit = as_json(unseen)["units"][0]
    expect("a prompt that cannot be shown stops the run with 3 and is told", unseen.returncode == 3
           and unit["error"]["code"] == "no_answer" and "could not be shown" in unit["error"]["message"], unit)
    deaf = without(0, *run, "--json", stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    unit = as_json(deaf)["units"][0]
    expect("a prompt without an input stops the run with 3 and is told", deaf.returncode == 3
           and unit["error"]["code"] == "no_answer", unit)

for number in (signal.SIGINT, signal.SIGTERM):
    many = subprocess.Popen([PROGRAM, "rehearse", LEVEL, "--units", "100000", "--seed", "1"], cwd=TOP, stdout=subprocess.PIPE,
                            stderr=subprocess.PIPE, text=True, bufsize=1)
    os.read(many.stdout.fileno(), 1)  # some units have ended
    many.send_signal(number)
    out, error = many.communicate(timeout=100)
    expect(f"{number.name} stops a rehearsal: 3, and how far it came", many.returncode == 3 and "stopped by request" in error
           and "of 100000 units" in error, f"{many.returncode} {error} {out[-300:]}")
finish()
