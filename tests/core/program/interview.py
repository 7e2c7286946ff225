# SPDX-License-Identifier: Apache-2.0
"""`interview`: a simulated oscilloscope is understood, its phrasebook checks and runs the ready sequence."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    scope = sim.resource("oscilloscope")
    learnt = eyelevel("interview", scope, "-o", at / "my-scope.yaml")
    expect("a known way of speaking fits", learnt.returncode == 0 and "standard-digitiser" in learnt.stdout, learnt.stdout + learnt.stderr)
    expect("nothing stays in the error queue", eyelevel("ask", scope, "SYST:ERR?").stdout == '0,"No error"\n')
    checked = eyelevel("check", at / "my-scope.yaml")
    expect("what it wrote checks", checked.returncode == 0, checked.stdout + checked.stderr)

    bench = sim.bench_file(at)
    bench.write_text(bench.read_text().replace("phrasebook: standard-digitiser", "phrasebook: my-scope.yaml"))
    (at / "answers.yaml").write_text("answers: [done]\n")
    run = eyelevel("run", "sequences/ready/pickup-level.yaml", "--bench", bench, "--answers", at / "answers.yaml",
                   "--store", at / "records.db", "--model", "examples/models/lf-2.yaml", "--json")
    expect("a run with it comes to its end", as_json(run)["units"][0]["ended"] == "finished", run.stdout[-500:] + run.stderr)

    meter = eyelevel("interview", sim.resource("multimeter"))
    expect("a meter is told from an oscilloscope", meter.stdout.split("best first:")[1].split()[0] == "standard-multimeter", meter.stdout)

nobody = eyelevel("interview", "TCPIP0::127.0.0.1::1::SOCKET")
expect("where nobody listens it ends with 3", nobody.returncode == 3 and "127.0.0.1" in nobody.stderr, nobody.stderr)

finish()
