# SPDX-License-Identifier: Apache-2.0
"""An instrument that misbehaves on a real port: a proxy in front of a simulated one, which hands every message on and gives
its answer to `damage`. One thread for each connection; it ends when either side closes."""
import socket
import threading


def answer_of(stream):
    """One whole response message with its NL; a definite-length block inside is taken by its length. Empty: closed."""
    out = b""
    while True:
        byte = stream.read(1)
        if not byte:
            return b""
        out += byte
        if byte == b"\n":
            return out
        if byte == b"#" and (len(out) == 1 or out[-2:-1] in b",;"):
            digits = stream.read(1)
            length = stream.read(int(digits))
            out += digits + length + stream.read(int(length))


# A run that an instrument which misbehaves cannot finish.
SEQUENCE = """sequence: hostile
about: captures from an instrument that misbehaves
needs:
  scope: { kind: oscilloscope }
signals:
  rf: scope channel 1
opening:
  - set up: rf
    probe: x10
    coupling: dc
    screen: 0.6 V to 2.6 V at the probe tip
    within: 2 s
steps:
  - capture: rf
    each: 500 us long
    keep: 64 settled
    try: at most 400
    within: 4 s
    name it: pressed
closing:
  - make safe: every instrument
    within: 2 s
"""


class Hostile:
    """damage(message, answer, client) gives the bytes to be sent instead, or None when it has sent what it wanted itself;
    `answer` is empty for a message without a query. It may close `client`. heard: every message that came, in order."""

    def __init__(self, host, port, damage):
        self.behind, self.damage, self.heard, self.stopped = (host, port), damage, [], threading.Event()
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.resource = f"TCPIP0::127.0.0.1::{self.port}::SOCKET"
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while True:
            try:
                client, _ = self.listening.accept()
            except OSError:
                return
            threading.Thread(target=self._converse, args=(client,), daemon=True).start()

    def _converse(self, client):
        try:
            with client, socket.create_connection(self.behind) as device, device.makefile("rb") as answers:
                for line in client.makefile("rb"):
                    self.heard.append(line)
                    device.sendall(line)
                    answer = answer_of(answers) if b"?" in line else b""
                    sent = self.damage(line, answer, client)
                    if sent:
                        client.sendall(sent)
        except (OSError, ValueError):
            pass  # a side went away: that is what these tests are about

    def close(self):
        self.stopped.set()
        self.listening.close()
