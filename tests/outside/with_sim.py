# SPDX-License-Identifier: Apache-2.0
"""Starts a simulated bench on free ports and hands its JSON line to a client: with_sim.py PROGRAM CLIENT. The client's exit
status counts; 77 means skipped."""
import subprocess
import sys

program, client = sys.argv[1], sys.argv[2]
sim = subprocess.Popen([program, "sim", "examples/bench.yaml", "--any-port", "--json"], stdout=subprocess.PIPE, text=True)
try:
    line = sim.stdout.readline()
    done = subprocess.run([sys.executable, client], input=line, text=True, timeout=100)
finally:
    sim.terminate()
    sim.wait(20)
sys.exit(done.returncode)
