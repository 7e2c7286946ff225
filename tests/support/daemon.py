# SPDX-License-Identifier: Apache-2.0
"""A daemon for tests, spoken to by clients that nobody here wrote: Python's http.client and Debian's websockets."""
import asyncio
import atexit
import http.client
import json
import signal
import subprocess
import sys
import threading
import time
import urllib.parse

import websockets

from program import TOP

PROGRAM = sys.argv[2]  # the daemon; the first argument is `eyelevel`
BENCH = "lanternfield-1"


class Daemon:
    def __init__(self, state, *more, simulated=True, bench="examples/bench.yaml", sequences="sequences", listen="127.0.0.1:0", name=BENCH):
        self.name = name  # of its bench
        self.process = subprocess.Popen(
            [PROGRAM, "--bench", str(bench), "--models", "examples/models", "--sequences", str(sequences), "--state", str(state),
             "--listen", listen, "--json", *(["--simulated"] if simulated else []), *map(str, more)],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=TOP)
        atexit.register(self.process.kill)  # a test that fails leaves none behind
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError("the daemon did not begin: " + self.process.stderr.read())
        self.line = json.loads(line)
        self.url = self.line["url"]
        self.port = urllib.parse.urlsplit(self.url).port

    def ask(self, method, path, body=None, headers=None):
        """Status, headers, body (parsed where it is JSON)."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=20)
        sent = {"Content-Type": "application/json", **(headers or {})}
        connection.request(method, path, None if body is None else json.dumps(body), sent)
        answer = connection.getresponse()
        data = answer.read()
        connection.close()
        is_json = "json" in (answer.getheader("Content-Type") or "")
        return answer.status, dict(answer.getheaders()), json.loads(data) if is_json else data

    def get(self, path):
        return self.ask("GET", path)[2]

    def bench(self):
        return self.get(f"/api/1/benches/{self.name}")

    def until(self, good, seconds=60):
        """The bench, once it is as it should be."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            bench = self.bench()
            if good(bench):
                return bench
            time.sleep(0.02)
        raise RuntimeError(f"the bench did not come to it: {self.bench()}")

    def answer(self, text="done"):
        question = self.until(lambda b: b["question"])["question"]["number"]
        return self.ask("POST", f"/api/1/benches/{self.name}/answer", {"question": question, "answer": text, "by": "a test"})[0]

    def add_job(self, sequence, **more):
        return self.ask("POST", "/api/1/jobs", {"bench": self.name, "sequence": sequence, **more})

    def end(self, how=signal.SIGTERM):
        """Exit status and how long it took."""
        begun = time.monotonic()
        self.process.send_signal(how)
        self.process.wait(30)
        self.process.stdout.close()
        self.process.stderr.close()
        return self.process.returncode, time.monotonic() - begun


class Viewer:
    """Keeps every message of the feed, on a thread of its own, until the daemon is gone."""

    def __init__(self, daemon, query=""):
        self.messages = []
        self.url = f"ws://127.0.0.1:{daemon.port}/api/1/benches/{BENCH}/feed{query}"
        self.opened = threading.Event()
        self.thread = threading.Thread(target=lambda: asyncio.run(self._view()), daemon=True)
        self.thread.start()
        self.opened.wait(10)

    async def _view(self):
        try:
            async with websockets.connect(self.url, max_size=None) as socket:
                self.opened.set()
                async for message in socket:
                    if isinstance(message, str):
                        self.messages.append(json.loads(message))
        except (websockets.ConnectionClosed, OSError):
            pass  # the daemon is gone, which is what ends a viewer
        self.opened.set()

    def events(self):
        return [m["event"] for m in list(self.messages) if m["kind"] == "event"]

    def join(self):
        self.thread.join(20)
