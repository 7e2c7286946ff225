# SPDX-License-Identifier: Apache-2.0
"""What the tests of the program share: running it, and a count of what went wrong. Called as SCRIPT PROGRAM."""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

TOP = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = sys.argv[1]
_wrong = []
# Records and notes of daemons of this test alone, wherever nothing else is said.
_state = tempfile.TemporaryDirectory(prefix="eyelevel-state-")
os.environ["XDG_STATE_HOME"] = _state.name


def eyelevel(*arguments, timeout=100, **more):
    """Runs the program from the top of the tree; gives its finished process with text output."""
    return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=timeout, cwd=TOP, **more)


def expect(what, good, seen=""):
    print(("ok     " if good else "WRONG  ") + what + ("" if good else f"\n       {seen}"))
    if not good:
        _wrong.append(what)


def as_json(process):
    try:
        return json.loads(process.stdout)
    except ValueError:
        expect("the output is JSON", False, process.stdout[:500] + process.stderr[:500])
        return None


def folder():
    return tempfile.TemporaryDirectory(prefix="eyelevel-test-")


def finish():
    sys.exit(1 if _wrong else 0)


class Sim:
    """A simulated bench on free ports, if nothing else is said, and a bench file that names them."""

    def __init__(self, *arguments, any_port=True):
        self.process = subprocess.Popen(
            [PROGRAM, "sim", "examples/bench.yaml", *(["--any-port"] if any_port else []), "--json", *map(str, arguments)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=TOP)
        self.line = self.process.stdout.readline()
        self.instruments = json.loads(self.line)["instruments"]

    def resource(self, kind):
        return next(i["resources"][0] for i in self.instruments if i["kind"] == kind)

    def bench_file(self, into):
        text = (TOP / "examples/bench.yaml").read_text()
        text = text.replace("TCPIP0::127.0.0.1::5025::SOCKET", self.resource("oscilloscope"))
        text = text.replace("TCPIP0::127.0.0.1::5026::SOCKET", self.resource("multimeter"))
        text = text.replace("TCPIP0::127.0.0.1::5027::SOCKET", self.resource("counter"))
        path = pathlib.Path(into) / "bench.yaml"
        path.write_text(text)
        return path

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        self.process.wait(20)
