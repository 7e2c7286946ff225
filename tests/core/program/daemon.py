# SPDX-License-Identifier: Apache-2.0
"""The daemon as its users see it: a whole visit over the API, what it refuses, how it stops."""
import pathlib
import signal
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, PROGRAM, Daemon, Viewer  # noqa: E402
from program import TOP, expect, eyelevel, finish, folder  # noqa: E402
from prometheus_client.openmetrics import parser  # noqa: E402


def a_whole_visit(state):
    daemon = Daemon(state)
    viewer = Viewer(daemon)
    status, headers, job = daemon.add_job("ready/pickup-level.yaml", serial="LF2-00417", model="lf-2.yaml", by="office")
    expect("a job is added and says where it is", status == 201 and headers["Location"] == f"/api/1/jobs/{job['id']}", job)
    bench = daemon.until(lambda b: b["question"])
    expect("what lights a laser waits for a person at the bench", bench["state"] == "waits for start" and bench["question"]["start"],
           bench)
    expect("nothing was run before", daemon.get("/api/1/runs")["runs"] == [])
    expect("the person starts it", daemon.answer() == 204)
    bench = daemon.until(lambda b: b["state"] == "running" and b["question"])
    expect("the prompt is asked with its time", bench["question"]["within_s"] == 600, bench["question"])
    expect("the present step is marked", bench["here"]["part"] == "steps" and bench["here"]["number"] == 1, bench["here"])
    expect("the person answers it", daemon.answer() == 204)
    bench = daemon.until(lambda b: b["state"] == "idle")
    expect("the end is a sentence", bench["last"]["ended"] == "finished" and "level_pressed is" in bench["last"]["sentence"],
           bench["last"])
    run = bench["last"]["run"]
    stored = daemon.get(f"/api/1/runs/{run}/events")["events"]
    time.sleep(0.2)
    expect("a viewer saw every event of the record, in order and once", viewer.events() == stored,
           [pair for pair in zip(viewer.events(), stored) if pair[0] != pair[1]][:1] or (len(viewer.events()), len(stored)))
    expect("the bench came first", viewer.messages[0]["kind"] == "bench", viewer.messages[0])
    late = Viewer(daemon, f"?run={run}&after={len(stored) - 3}")
    end = time.monotonic() + 10
    while len(late.events()) < 3 and time.monotonic() < end:
        time.sleep(0.02)
    expect("who comes again gets what was missed", late.events() == stored[-3:], late.events())
    families = list(parser.text_string_to_metric_families(daemon.ask("GET", "/metrics")[2].decode()))
    expect("an independent parser reads the metrics", {f.name for f in families} == {"eyelevel_bench_state", "eyelevel_jobs"},
           families)
    status, seconds = daemon.end()
    expect("it stops by itself within 5 s", status == 0 and seconds < 5, (status, seconds))
    for one in (viewer, late):
        one.join()
    report = eyelevel("records", "--store", pathlib.Path(state) / "records.db")
    expect("the command line reads the same record", run in report.stdout and "LF2-00417" in report.stdout, report.stdout)


def stopped_in_the_middle(state):
    daemon = Daemon(state)
    daemon.add_job("ready/pickup-level.yaml", serial="LF2-00418")
    daemon.answer()
    daemon.until(lambda b: b["state"] == "running" and b["question"])
    status, seconds = daemon.end()
    expect("stopped in the middle of a run it closes that within 5 s", status == 0 and seconds < 5, (status, seconds))
    daemon = Daemon(state)
    jobs = daemon.get("/api/1/jobs?state=interrupted")["jobs"]
    expect("the next one offers what was stopped", len(jobs) == 1 and "the daemon was stopped" in jobs[0]["why"], jobs)
    expect("whose run is closed as stopped", daemon.get(f"/api/1/runs/{jobs[0]['run']}")["ended"] == "stopped")
    expect("closing the job needs no more than a word", daemon.ask("POST", f"/api/1/jobs/{jobs[0]['id']}/close")[0] == 204)
    refused = subprocess.run([PROGRAM, "--bench", "examples/bench.yaml", "--models", "examples/models", "--state", str(state),
                              "--listen", "127.0.0.1:0"], capture_output=True, text=True, cwd=TOP, timeout=20)
    expect("a second daemon in the same folder is refused",
           refused.returncode == 2 and "another daemon works with this folder" in refused.stderr, refused.stderr)
    daemon.end(signal.SIGINT)


def by_the_clock(state):
    now = time.localtime(time.time() - 60)
    file = pathlib.Path(state) / "schedules.yaml"
    one = "  - name: {}\n    at: {}\n    bench: {}\n    sequence: ready/bench-proof.yaml\n"
    file.write_text("schedules:\n" + one.format("morning", time.strftime("%H:%M", now), BENCH))
    expect("a file of schedules is checked", eyelevel("check", file).returncode == 0)
    for _ in range(2):
        daemon = Daemon(pathlib.Path(state) / "state", "--schedules", file)
        daemon.until(lambda b: b["question"])
        jobs = daemon.get("/api/1/jobs")["jobs"]
        expect("what came due a minute ago is made up for, once", [job["asked_by"] for job in jobs] == ["schedule: morning"], jobs)
        daemon.end()
    file.write_text("schedules:\n" + one.format("morning", "07:30", "nowhere"))
    refused = subprocess.run([PROGRAM, "--bench", "examples/bench.yaml", "--models", "examples/models", "--state", str(state),
                              "--listen", "127.0.0.1:0", "--schedules", file], capture_output=True, text=True, cwd=TOP, timeout=20)
    expect("a schedule for no bench is refused with its place",
           refused.returncode == 2 and "schedules.yaml:5:15" in refused.stderr and "nowhere" in refused.stderr, refused.stderr)


def refused_beginnings(state):
    usual = ["--models", "examples/models", "--state", str(state)]
    cases = [
        (["--bench", "none.yaml"], "none.yaml"),
        (["--bench", "examples/bench.yaml", "--bench", "examples/bench.yaml"], "two benches"),
        (["--bench", "examples/bench.yaml", "--listen", "0.0.0.0:0"], "eyeleveld user add"),
        (["--bench", "examples/bench.yaml", "--listen", "nowhere"], "--listen"),
        (["--bench", "examples/bench.yaml", "--sequences", "none"], "--sequences none: there is no such folder"),
        ([], "--bench"),
    ]
    nowhere = ["--bench", "examples/bench.yaml", "--models", "examples/models", "--state", "/proc/none"]
    done = subprocess.run([PROGRAM, *nowhere], capture_output=True, text=True, cwd=TOP, timeout=20)
    expect("refused: a folder that cannot be made", done.returncode == 2 and "--state /proc/none" in done.stderr, done.stderr)
    for arguments, why in cases:
        done = subprocess.run([PROGRAM, *usual, *arguments], capture_output=True, text=True, cwd=TOP, timeout=20)
        expect(f"refused: {' '.join(arguments) or 'nothing said'}", done.returncode == 2 and why in done.stderr, done.stderr)


with folder() as state:
    a_whole_visit(state)
with folder() as state:
    by_the_clock(state)
with folder() as state:
    stopped_in_the_middle(state)
with folder() as state:
    refused_beginnings(state)
finish()
