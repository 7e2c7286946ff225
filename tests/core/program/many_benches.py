# SPDX-License-Identifier: Apache-2.0
"""Many simulated benches, each served by a process of its own, measuring side by side in one daemon, and many viewers of one of
them: every round of every bench in its time, and what the daemon takes of processor and memory.
`many_benches.py EYELEVEL EYELEVELD [BENCHES [VIEWERS]]`."""
import asyncio
import contextlib
import json
import os
import pathlib
import subprocess
import sys
import threading
import time

import websockets

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, PROGRAM as DAEMON, Daemon  # noqa: E402
from program import Sim, TOP, expect, finish, folder  # noqa: E402

ROUNDS, EVERY_S = 6, 5
SEQUENCE = f"""sequence: watch
about: The level of a closed unit, again and again
needs:
  scope: {{ kind: oscilloscope, sample rate: at least 20 MSa/s }}
signals:
  rf: scope channel 1
opening:
  - set up: rf
    probe: x10
    coupling: dc
    screen: 0.6 V to 2.6 V at the probe tip
    within: 10 s
steps:
  - repeat: every {EVERY_S} s for {ROUNDS * EVERY_S} s
    do:
      - capture: rf
        each: 500 us long
        keep: 32 settled
        try: at most 100
        within: {EVERY_S} s
        name it: now
      - measure: eye level of now
        name it: level
    within: 2 min
closing:
  - make safe: every instrument
    within: 10 s
"""
LOOKED_AT = SEQUENCE.replace("sequence: watch", "sequence: looked-at").replace("keep: 32", "keep: 400").replace(
    "at most 100", "at most 1000").replace(f"within: {EVERY_S} s", "within: 1 min")
HIGHEST_KB = 200 * 1024


def processor_s(process):
    fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def highest_kb(process):
    status = pathlib.Path(f"/proc/{process.pid}/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmHWM")).split()[1])


class Viewers:
    """Count the pictures that each gets, on one thread."""

    def __init__(self, daemon, bench, count):
        self.url = f"ws://127.0.0.1:{daemon.port}/api/1/benches/{bench}/feed"
        self.times = [[] for _ in range(count)]
        self.thread = threading.Thread(target=lambda: asyncio.run(self.view_all()), daemon=True)
        self.thread.start()

    async def view_all(self):
        await asyncio.gather(*(self.view(times) for times in self.times))

    async def view(self, times):
        with contextlib.suppress(websockets.ConnectionClosed, OSError):  # the daemon is gone, which is what ends a viewer
            async with websockets.connect(self.url, max_size=None) as socket:
                async for message in socket:
                    if isinstance(message, bytes):
                        times.append(time.monotonic())

    def rates(self):
        """Of each: pictures a second while they come."""
        rates = []
        for times in self.times:
            steps = [b - a for a, b in zip(times, times[1:]) if b - a < 0.5]
            rates.append(len(steps) / sum(steps) if steps else 0)
        return rates


def run(benches, viewers):
    with folder() as top, contextlib.ExitStack() as stack:
        top = pathlib.Path(top)
        sequences = top / "sequences"
        sequences.mkdir()
        (sequences / "watch.yaml").write_text(SEQUENCE)
        (sequences / "looked-at.yaml").write_text(LOOKED_AT)
        files = []
        for number in range(benches):
            place = top / str(number)
            place.mkdir()
            file = stack.enter_context(Sim("--seed", number + 1)).bench_file(place)
            file.write_text(file.read_text().replace(BENCH, f"bench-{number}"))
            files.append(file)
        more = [word for file in files[1:] for word in ("--bench", file)]
        daemon = Daemon(top / "state", *more, simulated=False, bench=files[0], sequences=sequences, name="bench-0")
        process = daemon.process
        watching = Viewers(daemon, "bench-0", viewers)
        begun, used = time.monotonic(), processor_s(process)
        for number in range(benches):
            status, _, job = daemon.ask("POST", "/api/1/jobs", {
                "bench": f"bench-{number}", "sequence": "watch.yaml" if number else "looked-at.yaml", "serial": f"LF2-{number:05}"})
            if status != 201:
                raise RuntimeError(f"a job is not taken in: {job}")
        end = begun + 60 + ROUNDS * EVERY_S
        while len(runs := [run for run in daemon.get("/api/1/runs?at_most=1000")["runs"] if run["ended"]]) < benches:
            if time.monotonic() > end:
                break
            time.sleep(0.5)
        wall, used = time.monotonic() - begun, processor_s(process) - used
        print(f"       {benches} benches, {viewers} viewers of one: {used / wall:.2f} of a core, {highest_kb(process) / 1024:.0f} MB at most, {wall:.0f} s")
        expect(f"the runs of all {benches} benches have ended well", [run["ended"] for run in runs] == ["finished"] * benches,
               [run for run in runs if run["ended"] != "finished"][:2])
        late = []
        for run in runs:
            if run["sequence"] == "looked-at":
                continue
            events = daemon.get(f"/api/1/runs/{run['run']}/events")["events"]
            at = [event["time_s"] for event in events if event["event"] == "measured"]
            if len(at) != ROUNDS or any(b - a > 1.5 * EVERY_S for a, b in zip(at, at[1:])):
                late.append((run["run"], at))
        expect("no round of any was left out or late", not late, late[:3])
        expect("it needs one core at most", used <= wall, used / wall)
        expect("and 200 MB", highest_kb(process) <= HIGHEST_KB, highest_kb(process))
        rates = watching.rates()
        if rates:
            print(f"       pictures a second: {min(rates):.1f} to {max(rates):.1f}")
            expect("each viewer gets twenty pictures a second, or nearly", min(rates) >= 15, rates)
        expect("the daemon ends well", daemon.end()[0] == 0)


run(int(sys.argv[3]) if len(sys.argv) > 3 else 8, int(sys.argv[4]) if len(sys.argv) > 4 else 4)
finish()
