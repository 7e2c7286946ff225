# SPDX-License-Identifier: Apache-2.0
"""The database goes away in the middle of a run and comes back: the bench goes on, also through a kill of the daemon, and the
database has every event once. `daemon_outage.py EYELEVEL EYELEVELD`."""
import pathlib
import signal
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import Daemon, Viewer  # noqa: E402
from postgres import Postgres  # noqa: E402
from program import expect, finish, folder  # noqa: E402

WAITS = """sequence: waits
about: Something that is asked in its middle
steps:
  - note: before
  - prompt: Is the database away?
    answer: yes or no
    within: 5 min
  - note: meanwhile
  - prompt: Is it still away?
    answer: yes or no
    within: 5 min
  - note: after
"""


def begun(daemon):
    status, _, job = daemon.add_job("waits.yaml")
    expect("a job is taken in", status == 201, job)
    daemon.answer()  # to begin
    daemon.until(lambda b: b["question"] and "away?" in b["question"]["text"])
    return job["id"]


def job_of(daemon, number):
    return daemon.get(f"/api/1/jobs/{number}")


def check_record(daemon, viewer, number, ended):
    """What was told is what the database holds."""
    run = job_of(daemon, number)["run"]
    stored = daemon.get(f"/api/1/runs/{run}/events")["events"]
    told = viewer.events()
    expect("every event that was told is in the database, once", told and stored[:len(told)] == told, (len(told), len(stored)))
    expect("they are numbered without a gap", [event["number"] for event in stored] == list(range(1, len(stored) + 1)))
    if ended:
        expect("the run is closed", stored[-1]["event"] == "closed" and stored[-1]["body"]["ended"] == "finished", stored[-1])


def goes_on(server, top):
    daemon = Daemon(top / "state", "--store", server.url(), sequences=top / "sequences")
    viewer = Viewer(daemon)
    job = begun(daemon)
    server.stop()
    daemon.answer("yes")
    daemon.until(lambda b: b["question"] and "still" in b["question"]["text"])
    daemon.answer("yes")
    bench = daemon.until(lambda b: b["trouble"])
    expect("the run came to its end without the database", bench["last"]["ended"] == "finished", bench)
    expect("the bench says what is wrong", "cannot be reached" in bench["trouble"]["message"], bench["trouble"])
    expect("so does the API", daemon.ask("GET", "/api/1/jobs")[0] == 503)
    server.start()
    daemon.until(lambda b: not b["trouble"] and b["state"] == "idle")
    expect("the job is done once the database is back", job_of(daemon, job)["state"] == "done")
    check_record(daemon, viewer, job, True)
    expect("the daemon ends well", daemon.end()[0] == 0)
    viewer.join()


def killed_meanwhile(server, top):
    daemon = Daemon(top / "state", "--store", server.url(), sequences=top / "sequences")
    viewer = Viewer(daemon)
    job = begun(daemon)
    server.stop()
    daemon.answer("yes")
    daemon.until(lambda b: b["question"] and "still" in b["question"]["text"])
    daemon.end(signal.SIGKILL)
    viewer.join()
    server.start()
    daemon = Daemon(top / "state", "--store", server.url(), sequences=top / "sequences")
    daemon.until(lambda b: b["state"] == "idle" and job_of(daemon, job)["state"] == "interrupted")
    check_record(daemon, viewer, job, False)
    expect("what was told while the database was away is there", any(e["body"].get("text") == "meanwhile" for e in viewer.events()))
    expect("it can be closed", daemon.ask("POST", f"/api/1/jobs/{job}/close")[0] == 204)
    daemon.end()


with Postgres() as database, folder() as name:
    (pathlib.Path(name) / "sequences").mkdir()
    (pathlib.Path(name) / "sequences/waits.yaml").write_text(WAITS)
    goes_on(database, pathlib.Path(name))
    killed_meanwhile(database, pathlib.Path(name))
finish()
