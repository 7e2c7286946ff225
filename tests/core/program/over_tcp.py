# SPDX-License-Identifier: Apache-2.0
"""The ready level sequence, unchanged, against instruments on real TCP ports; one query by `ask`; an interrupt."""
import json
import pathlib
import signal
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"

with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    bench = sim.bench_file(at)
    who = eyelevel("ask", sim.resource("oscilloscope"), "*IDN?")
    expect("ask prints the answer", who.returncode == 0 and who.stdout.count(",") == 3, who.stdout + who.stderr)
    (at / "answers.yaml").write_text("answers: [done]\n")
    store = at / "records.db"
    done = eyelevel("run", LEVEL, "--bench", bench, "--serial", "LF2-00417", "--answers", at / "answers.yaml", "--store", store,
                    "--model", "examples/models/lf-2.yaml", "--json")
    unit = as_json(done)["units"][0]
    expect("the run is finished and judged", unit["ended"] == "finished" and unit["judgement"] in ("pass", "fail", "undecided"), unit)
    expect("exit status says whether every limit was met", done.returncode == (0 if unit["judgement"] == "pass" else 1), done.returncode)
    expect("serial and level are in the result", unit["serial"] == "LF2-00417" and 0.7 < unit["readings"][0]["value"] < 1.7, unit)
    none = eyelevel("run", LEVEL, "--bench", bench, "--store", store, "--json", stdin=subprocess.DEVNULL)
    unit = as_json(none)["units"][0]
    expect("a prompt that nobody can answer stops the run with 3", none.returncode == 3 and unit["error"]["code"] == "no_answer", unit)

    waiting = subprocess.Popen([PROGRAM, "run", LEVEL, "--bench", str(bench), "--store", str(store), "--json"], cwd=TOP, text=True,
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    shown = ""
    while "then press Enter" not in shown:
        character = waiting.stderr.read(1)
        if not character:
            break
        shown += character
    waiting.send_signal(signal.SIGINT)
    out, err = waiting.communicate(timeout=30)
    unit = json.loads(out)["units"][0]
    expect("an interrupt stops the run; its closing runs and the record is complete", waiting.returncode == 3
           and unit["ended"] == "stopped", out + err)
    runs = as_json(eyelevel("records", "--store", store, "--json"))
    expect("all three runs are in the record, closed", len(runs) == 3 and all(r["ended"] for r in runs), runs)
finish()
