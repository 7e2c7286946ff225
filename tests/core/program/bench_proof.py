# SPDX-License-Identifier: Apache-2.0
"""The bench proof over real TCP ports: prompts are relayed to the simulated person, and later runs say when it was."""
import json
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

PROOF = "sequences/ready/bench-proof.yaml"
LEVEL = "sequences/ready/pickup-level.yaml"


def prove(sim, bench, store):
    """Runs the proof; whatever it asks of the operator is done by the person at the simulated bench."""
    run = subprocess.Popen([PROGRAM, "run", PROOF, "--bench", str(bench), "--store", str(store), "--json"], cwd=TOP, text=True,
                           stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    shown = ""
    for character in iter(lambda: run.stderr.read(1), ""):
        shown += character
        if not shown.endswith("press Enter: "):
            continue
        prompt = shown.rsplit(">>  ", 1)[1].split("\n")[0]
        sim.process.stdin.write(prompt + "\n")
        sim.process.stdin.flush()
        run.stdin.write(sim.process.stdout.readline())
        run.stdin.flush()
    out = run.stdout.read()
    run.wait(60)
    return json.loads(out)["units"][0], shown


with folder() as at, Sim("--obey", "--disc", "none", "--seed", 5) as sim:
    at = pathlib.Path(at)
    bench = sim.bench_file(at)
    store = at / "records.db"
    before = as_json(eyelevel("check", LEVEL, "--bench", bench, "--store", store, "--json"))
    expect("check remarks that the bench was never proven", len(before) == 1 and before[0]["severity"] == "warning"
           and "never was" in before[0]["message"], before)
    unit, said = prove(sim, bench, store)
    expect("the first proof says that there was none before", unit["bench_proof"] == {
        "proven": False, "run": None, "at_utc": None, "judgement": None, "old": False} and "bench not proven" in said, unit["bench_proof"])
    expect("the bench is proven", unit["ended"] == "finished" and unit["judgement"] == "pass", unit)
    expect("identity, calibration, self-test of three instruments and the settings of two signals are in it",
           len(unit["proofs"]) == 11 and all(p["judgement"] == "pass" for p in unit["proofs"]), unit["proofs"])
    expect("what is measured is in it", {"factor", "flatness", "clock_ratio", "noise", "agreement"}
           <= {r["name"] for r in unit["readings"]}, unit["readings"])
    after = eyelevel("check", LEVEL, "--bench", bench, "--store", store)
    expect("check has nothing to remark any more", after.returncode == 0 and "warning" not in after.stdout, after.stdout)
    (at / "answers.yaml").write_text("answers: [done]\n")
    later = as_json(eyelevel("run", LEVEL, "--bench", bench, "--answers", at / "answers.yaml", "--store", store, "--json"))["units"][0]
    expect("a later run says when the bench was proven", later["bench_proof"]["proven"] and later["bench_proof"]["run"] == unit["run"],
           later["bench_proof"])
finish()
