# SPDX-License-Identifier: Apache-2.0
"""The daemon as systemd sees it: ready, alive, reloading, stopping (sd_notify(3)), over a socket that is not systemd's."""
import os
import pathlib
import signal
import socket
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import Daemon  # noqa: E402
from program import TOP, expect, finish, folder  # noqa: E402


class Manager:
    def __init__(self, place):
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.socket.bind(str(pathlib.Path(place) / "notify"))
        self.socket.settimeout(20)
        os.environ["NOTIFY_SOCKET"] = str(pathlib.Path(place) / "notify")
        os.environ["WATCHDOG_USEC"] = "400000"

    def heard(self, word):
        """The next message that holds it; others are passed over."""
        while word not in (message := self.socket.recv(4096).decode().split("\n")):
            pass
        return message


def bench_file(place, text):
    path = pathlib.Path(place) / "bench.yaml"
    path.write_text(text)
    return path


def line_on_stderr(daemon, words):
    while words not in (line := daemon.process.stderr.readline()) and line:
        pass
    return line


with folder() as place:
    manager = Manager(place)
    usual = (TOP / "examples/bench.yaml").read_text()
    state = pathlib.Path(place) / "state"
    more = pathlib.Path(place) / "benches"
    more.mkdir()
    daemon = Daemon(state, "--benches", more, bench=bench_file(place, usual))
    expect("it says that it is ready, and where", any(daemon.url in part for part in manager.heard("READY=1")))
    for _ in range(3):
        expect("its loop says that it lives", manager.heard("WATCHDOG=1"))

    daemon.add_job("ready/pickup-level.yaml", serial="LF2-00417", model="lf-2.yaml")
    waiting = daemon.until(lambda b: b["question"])
    daemon.add_job("ready/pickup-level.yaml", serial="LF2-00418", model="lf-2.yaml")
    due = [i["calibration_due"] for i in waiting["instruments"]]
    later = "2031-12-24"
    bench_file(place, usual.replace(next(d for d in due if d), later))
    daemon.process.send_signal(signal.SIGHUP)
    expect("it says that it reads anew, and is ready again", manager.heard("RELOADING=1") and manager.heard("READY=1"))
    expect("the bench that has a job keeps its file", later not in str(daemon.bench()["instruments"]))
    daemon.ask("POST", "/api/1/benches/lanternfield-1/stop")
    bench = daemon.until(lambda b: b["question"] and b["job"]["serial"] == "LF2-00418")
    expect("the next job has the new one", later in str(bench["instruments"]), bench["instruments"])
    expect("and no job was dropped", len(daemon.get("/api/1/jobs")["jobs"]) == 2)

    bench_file(place, "nonsense: [")
    daemon.process.send_signal(signal.SIGHUP)
    expect("a file that cannot be used is told, with its place", "bench.yaml:" in line_on_stderr(daemon, "bench.yaml:"))
    manager.heard("READY=1")
    expect("and nothing has changed", later in str(daemon.bench()["instruments"]))
    bench_file(place, usual.replace("lanternfield-1", "another"))
    daemon.process.send_signal(signal.SIGHUP)
    expect("an instrument does not go to another bench while a job uses it", line_on_stderr(daemon, "reload again when that job is over"))
    manager.heard("READY=1")
    daemon.ask("POST", "/api/1/benches/lanternfield-1/stop")
    daemon.until(lambda b: b["state"] == "idle")
    status, _, refused = daemon.ask("POST", "/api/1/reload")
    daemon.name = "another"
    expect("a new bench comes when the API asks for it", status == 204 and daemon.until(lambda b: b.get("state") == "idle"), refused)
    daemon.name = "lanternfield-1"
    daemon.until(lambda b: b.get("status") == 404)
    names = [bench["name"] for bench in daemon.get("/api/1/benches")["benches"]]
    expect("and the one without a file goes", names == ["another"], names)
    (more / "third.yaml").write_text(usual.replace("lanternfield-1", "third"))
    daemon.ask("POST", "/api/1/reload")
    names = [bench["name"] for bench in daemon.get("/api/1/benches")["benches"]]
    expect("a file that was put into the folder is a bench", names == ["another", "third"], names)
    status, seconds = daemon.end()
    expect("it says that it stops, and does", manager.heard("STOPPING=1") and status == 0 and seconds < 5, (status, seconds))
finish()
