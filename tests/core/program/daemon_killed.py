# SPDX-License-Identifier: Apache-2.0
"""The daemon killed (SIGKILL) at random instants under load: nothing that was announced is lost, no run is unreadable, no
job is done twice. `daemon_killed.py EYELEVEL EYELEVELD [KILLS [SEED [postgres]]]`: in a file, or on a server of its own."""
import contextlib
import pathlib
import random
import signal
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import Daemon, Viewer  # noqa: E402
from postgres import Postgres  # noqa: E402
from program import expect, eyelevel, finish, folder  # noqa: E402

SEQUENCE = """sequence: quick
about: Three direct voltages
needs:
  meter: { kind: multimeter }
signals:
  dc: meter
opening:
  - set up: dc
    range: 5 V
    aperture: 20 ms
    within: 5 s
steps:
  - note: first
  - measure: d.c. level of dc
    over: 20 ms
    within: 5 s
    name it: a
  - measure: d.c. level of dc
    over: 20 ms
    within: 5 s
    name it: b
closing:
  - make safe: every instrument
    within: 10 s
"""


def killed(state, sequences, store, random_):
    """One life: jobs are added, then it is killed. The events that a viewer was told."""
    daemon = Daemon(state, "--store", store, sequences=sequences)
    viewer = Viewer(daemon)
    for _ in range(3):
        status, _, job = daemon.add_job("quick.yaml")
        expect("a job is taken in", status == 201, job) if status != 201 else None
    time.sleep(random_.uniform(0, 0.4))
    daemon.end(signal.SIGKILL)
    viewer.join()
    return viewer.events()


def run(kills, seed, server):
    print(f"seed {seed}, {kills} kills")
    random_ = random.Random(seed)
    announced = {}
    with folder() as top:
        state, sequences = pathlib.Path(top) / "state", pathlib.Path(top) / "sequences"
        store = server.url() if server else state / "records.db"
        sequences.mkdir()
        (sequences / "quick.yaml").write_text(SEQUENCE)
        for _ in range(kills):
            for event in killed(state, sequences, store, random_):
                announced[(event["run"], event["number"])] = event
        daemon = Daemon(state, "--store", store, sequences=sequences)
        end = time.monotonic() + 120
        while daemon.get("/api/1/jobs?state=waiting")["jobs"] or daemon.get("/api/1/jobs?state=under%20way")["jobs"]:
            if time.monotonic() > end:
                expect("every job comes to its end", False, daemon.bench())
                break
            time.sleep(0.05)
        jobs = daemon.get("/api/1/jobs?at_most=10000")["jobs"]
        expect(f"all {3 * kills} jobs are in the store", len(jobs) == 3 * kills, len(jobs))
        wrong = [job for job in jobs if job["state"] not in ("done", "interrupted") or not job["run"]]
        expect("each is done or offered to be gone on with", not wrong, wrong[:3])
        expect("no two have the same run", len({job["run"] for job in jobs}) == len(jobs))
        unsafe = [job for job in jobs if job["state"] == "interrupted" and "was made safe" not in job["why"]]
        expect("every interrupted one was brought to safe", not unsafe, unsafe[:3])
        runs = {run["run"] for run in daemon.get("/api/1/runs?at_most=10000")["runs"]}
        expect("no run was made that is no job's", runs == {job["run"] for job in jobs}, runs ^ {job["run"] for job in jobs})
        stored = {}
        for one in runs:
            for event in daemon.get(f"/api/1/runs/{one}/events")["events"]:
                stored[(event["run"], event["number"])] = event
        lost = [key for key, event in announced.items() if stored.get(key) != event]
        expect(f"none of {len(announced)} announced events is lost", announced and not lost, lost[:5])
        done = sum(job["state"] == "done" for job in jobs)
        print(f"       {done} jobs done, {len(jobs) - done} interrupted")
        expect("kills struck in the middle of runs", len(jobs) > done)
        daemon.end()
        listed = eyelevel("records", "--store", store, "--json", "--at-most", 10000)
        expect("the record reads", listed.returncode == 0, listed.stderr)


with Postgres() if sys.argv[5:] == ["postgres"] else contextlib.nullcontext() as database:
    run(int(sys.argv[3]) if len(sys.argv) > 3 else 20, int(sys.argv[4]) if len(sys.argv) > 4 else 1, database)
finish()
