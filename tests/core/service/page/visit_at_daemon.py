# SPDX-License-Identifier: Apache-2.0
"""The visits of visit_browser.mjs, and the figures of figures_browser.mjs, at a real daemon: `visit_at_daemon.py EYELEVEL EYELEVELD NODE`."""
import os
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[2] / "support"))
from daemon import PROGRAM, Daemon  # noqa: E402
from program import TOP, expect, finish, folder  # noqa: E402

PASSWORD = "four words of mine"
ADMINISTRATOR = "look, operate, change, administer"


def played_at(daemon, script, **environment):
    return subprocess.run([sys.argv[3], "--test", str(HERE / script)], capture_output=True, text=True, timeout=200,
                          env={**os.environ, "EYELEVEL_PAGE_URL": daemon.url, **environment})


def signed_in(daemon):
    headers = daemon.ask("POST", "/api/1/session", {"name": "bo", "password": PASSWORD})[1]
    return {"Cookie": headers["Set-Cookie"].split(";")[0]}


with folder() as state:
    daemon = Daemon(state)
    played = played_at(daemon, "visit_browser.mjs")
    expect("a whole visit by keyboard", played.returncode == 0, played.stdout[-3000:] + played.stderr[-1000:])
    runs = daemon.get("/api/1/runs")["runs"]
    expect("its run is in the record", len(runs) == 1 and runs[0]["ended"] == "finished", runs)
    played = played_at(daemon, "figures_browser.mjs")
    expect("the page is soon there, and so are events", played.returncode == 0, played.stdout[-3000:] + played.stderr[-1000:])
    print(*[line for line in played.stdout.splitlines() if "first view: " in line or "event to screen: " in line], sep="\n")
    expect("the daemon ends as it should", daemon.end()[0] == 0)

with folder() as state:
    subprocess.run([PROGRAM, "user", "add", "bo", "--rights", ADMINISTRATOR, "--state", str(state)], input=PASSWORD + "\n", text=True,
                   check=True, capture_output=True, cwd=TOP, timeout=60)
    daemon = Daemon(state, "--require-login")
    played = played_at(daemon, "visit_browser.mjs", EYELEVEL_PAGE_USER="bo", EYELEVEL_PAGE_PASSWORD=PASSWORD)
    expect("a visit of who signs in", played.returncode == 0, played.stdout[-3000:] + played.stderr[-1000:])
    cookie = signed_in(daemon)
    jobs = daemon.ask("GET", "/api/1/jobs", headers=cookie)[2]["jobs"]
    expect("the job is in the name of who asked for it, and done", [(j["asked_by"], j["state"]) for j in jobs] == [("bo", "done")], jobs)
    seats = daemon.ask("GET", "/api/1/seats", headers=cookie)[2]["seats"]
    expect("the screen has its seat", [(seat["bench"], seat["name"]) for seat in seats] == [("lanternfield-1", "tablet")], seats)
    audit = daemon.ask("GET", "/api/1/audit", headers=cookie)[2]["audit"]
    done = [entry["what"] for entry in reversed(audit)]
    expect("signing in and out stand in the audit", done[0] == "POST /api/1/session" and "DELETE /api/1/session" in done, done)
    expect("the daemon of users ends as it should", daemon.end()[0] == 0)
finish()
