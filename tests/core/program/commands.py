# SPDX-License-Identifier: Apache-2.0
"""The command line itself: help with an example, version, exit statuses, and `check` as people and programs read it."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

for command in ("run", "rehearse", "check", "analyse", "ask", "find", "sim", "records", "report", "compare", "export", "import",
                "reference"):
    shown = eyelevel(command, "--help")
    expect(f"{command} --help shows an example and exits 0",
           shown.returncode == 0 and f"eyelevel {command} " in shown.stdout and "Example" in shown.stdout, shown.stdout)
version = eyelevel("--version")
expect("--version prints name and number", version.returncode == 0 and version.stdout.startswith("eyelevel "), version.stdout)
expect("no command at all is a wrong input", eyelevel().returncode == 2)
nearly = eyelevel("reherse")
expect("an unknown command is told with the nearest one", nearly.returncode == 2 and "'rehearse'" in nearly.stderr, nearly.stderr)
negative = eyelevel("rehearse", "sequences/ready/pickup-level.yaml", "--seed", "-1")
expect("a negative seed is refused", negative.returncode == 2 and "-1" in negative.stderr, negative.stderr)
after = eyelevel("rehearse", "--trouble", "scope off", "sequences/ready/pickup-level.yaml", "--seed", "1")
expect("the sequence may stand after a trouble", after.returncode == 0, after.stdout + after.stderr)
expect("an unknown option is a wrong input", eyelevel("check", "--nonsense").returncode == 2)

good = eyelevel("check", "sequences/ready/pickup-level.yaml", "examples/bench.yaml", "examples/models/lf-2.yaml", "--json")
expect("what is shipped checks without a mistake", good.returncode == 0 and as_json(good) == [], good.stdout)

with folder() as at:
    wrong = pathlib.Path(at) / "wrong.yaml"
    wrong.write_text("sequence: wrong\nneeds:\n  scope: { kind: oscilloscope }\nsignals:\n  rf: scope channel 1\n"
                     "steps:\n  - promt: Insert the pressed test disc\n    within: 5\nclosing:\n  - make safe: every instrument\n    within: 10 s\n")
    told = eyelevel("check", wrong)
    expect("a mistake is told as file:line:column with the nearest word",
           told.returncode == 2 and f"{wrong}:7:5: " in told.stdout and "prompt" in told.stdout, told.stdout)
    listed = as_json(eyelevel("check", wrong, "--json"))
    expect("--json lists file, line, column, severity, message, suggestion",
           bool(listed) and all(set(m) >= {"file", "line", "column", "severity", "message", "suggestion"} for m in listed), listed)
    refused = eyelevel("run", wrong, "--bench", "examples/bench.yaml", "--store", pathlib.Path(at) / "s.db")
    expect("nothing is run from a file that does not check", refused.returncode == 2 and not (pathlib.Path(at) / "s.db").exists(),
           refused.stderr)
    nobody = eyelevel("ask", "TCPIP0::127.0.0.1::1::SOCKET", "*IDN?")
    expect("asking where nobody listens ends with 3 and names the resource",
           nobody.returncode == 3 and "TCPIP0::127.0.0.1::1::SOCKET" in nobody.stderr, nobody.stderr)
    some = pathlib.Path(at) / "some.db"
    eyelevel("rehearse", "sequences/ready/pickup-level.yaml", "--seed", "1", "--units", "3", "--store", some)
    newest = eyelevel("records", "--store", some, "--at-most", "2")
    expect("records that leave older ones out say so", newest.stdout.count("pickup-level") == 2 and "older" in newest.stderr, newest.stderr)
    none = eyelevel("records", "--store", pathlib.Path(at) / "none.db")
    expect("records of a store that is not there is a wrong input", none.returncode == 2, none.stderr)
finish()
