# SPDX-License-Identifier: Apache-2.0
"""Two daemons on one PostgreSQL database work one queue, while one of them is killed (SIGKILL) at random instants: all jobs are
done, each once; and what a daemon had that never comes back is done by the other one after the lease.
`daemons_share.py EYELEVEL EYELEVELD [KILLS [SEED]]`."""
import pathlib
import random
import signal
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, Daemon  # noqa: E402
from postgres import Postgres  # noqa: E402
from program import TOP, expect, finish, folder  # noqa: E402

SEQUENCE = """sequence: quick
about: Two direct voltages
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
    resume here: yes
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


class House:
    """A folder with sequences and two bench files; daemons that share a store."""

    def __init__(self, top, store):
        self.top, self.store = pathlib.Path(top), store
        self.sequences = self.top / "sequences"
        self.sequences.mkdir()
        (self.sequences / "quick.yaml").write_text(SEQUENCE)
        text = (TOP / "examples/bench.yaml").read_text()
        for name in ("left", "right"):
            (self.top / f"{name}.yaml").write_text(text.replace(BENCH, name))

    def daemon(self, name):
        return Daemon(self.top / name, "--store", self.store, bench=self.top / f"{name}.yaml", sequences=self.sequences, name=name)


def jobs_of(daemon, state=None):
    return daemon.get("/api/1/jobs?at_most=10000" + (f"&state={state}" if state else ""))["jobs"]


def until(what, good, seconds):
    end = time.monotonic() + seconds
    while not good():
        if time.monotonic() > end:
            expect(what, False)
            return
        time.sleep(0.1)


def add(daemon, serial):
    status, _, job = daemon.ask("POST", "/api/1/jobs", {"sequence": "quick.yaml", "serial": serial})
    if status != 201:
        raise RuntimeError(f"a job is not taken in: {job}")


def go_on(daemon, job):
    """What a person does with an interrupted job: goes on with it; where nothing was reached yet, closes it and asks again."""
    path = f"/api/1/jobs/{job['id']}"
    status, _, answer = daemon.ask("POST", f"{path}/resume")
    if status == 201:
        return
    if status != 422 or daemon.ask("POST", f"{path}/close")[0] != 204:
        raise RuntimeError(f"an interrupted job can neither be gone on with nor closed: {answer}")
    add(daemon, job["serial"])


def killed_and_all_done(house, kills, random_):
    left = house.daemon("left")
    serials = []
    for _ in range(kills):
        right = house.daemon("right")
        for _ in range(2):
            serials.append(f"S{len(serials)}")
            add(left, serials[-1])
        time.sleep(random_.uniform(0, 0.4))
        right.end(signal.SIGKILL)
    right = house.daemon("right")
    by_name = {"left": left, "right": right}

    def all_over():
        for job in jobs_of(left, "interrupted"):
            if "made safe" in job["why"]:
                go_on(by_name[job["bench"]], job)
        return not any(jobs_of(left, state) for state in ("waiting", "under%20way", "interrupted"))

    until("every job comes to its end", all_over, 120)
    jobs = jobs_of(left)
    runs = left.get("/api/1/runs?at_most=10000")["runs"]
    finished = [run["serial"] for run in runs if run["ended"] == "finished"]
    expect(f"all {len(serials)} jobs are done, each once", sorted(finished) == sorted(serials),
           sorted(set(serials) - set(finished)) or [one for one in finished if finished.count(one) > 1])
    expect("no two have the same run", len({job["run"] for job in jobs}) == len(jobs))
    expect("no run was made that is no job's", {run["run"] for run in runs} == {job["run"] for job in jobs})
    done_by = {name: sum(job["bench"] == name for job in jobs) for name in by_name}
    expect("both have worked", min(done_by.values()) > 0, done_by)
    print(f"       {done_by}, {len(jobs) - len(serials)} gone on with or asked again")
    return left, right


def never_comes_back(left, right):
    """Both benches have jobs; one daemon dies with one of them under way."""
    for number in range(60):
        add(left, f"L{number}")
    until("the right one has a job", lambda: any(job["bench"] == "right" for job in jobs_of(left, "under%20way")), 30)
    right.end(signal.SIGKILL)
    lost = {job["id"] for job in jobs_of(left, "under%20way") if job["bench"] == "right"}
    begun = time.monotonic()
    until("what a dead daemon had is given back", lambda: not lost & {job["id"] for job in jobs_of(left, "under%20way")}, 60)
    print(f"       given back after {time.monotonic() - begun:.0f} s")
    until("nothing waits any more", lambda: not jobs_of(left, "waiting") and not jobs_of(left, "under%20way"), 60)
    states = {job["state"] for job in jobs_of(left) if job["id"] in lost}
    expect("it was done by the other one, or waits to be gone on with", states <= {"done", "interrupted"}, states)


def run(kills, seed):
    print(f"seed {seed}, {kills} kills")
    with Postgres() as server, folder() as top:
        left, right = killed_and_all_done(House(top, server.url()), kills, random.Random(seed))
        never_comes_back(left, right)
        expect("a daemon on a server ends well", left.end()[0] == 0)


run(int(sys.argv[3]) if len(sys.argv) > 3 else 10, int(sys.argv[4]) if len(sys.argv) > 4 else 1)
finish()
