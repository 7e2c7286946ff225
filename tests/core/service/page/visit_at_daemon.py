# SPDX-License-Identifier: Apache-2.0
"""The visit of visit_browser.mjs, played at a real daemon: `visit_at_daemon.py EYELEVEL EYELEVELD NODE`."""
import os
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[2] / "support"))
from daemon import Daemon  # noqa: E402
from program import expect, finish, folder  # noqa: E402

with folder() as state:
    daemon = Daemon(state)
    played = subprocess.run([sys.argv[3], "--test", str(HERE / "visit_browser.mjs")], capture_output=True, text=True, timeout=200,
                            env={**os.environ, "EYELEVEL_PAGE_URL": daemon.url})
    expect("a whole visit by keyboard", played.returncode == 0, played.stdout[-3000:] + played.stderr[-1000:])
    runs = daemon.get("/api/1/runs")["runs"]
    expect("its run is in the record", len(runs) == 1 and runs[0]["ended"] == "finished", runs)
    expect("the daemon ends as it should", daemon.end()[0] == 0)
finish()
