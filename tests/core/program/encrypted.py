# SPDX-License-Identifier: Apache-2.0
"""HiSLIP encrypted: `sim --encrypt`, `ask --certificate`, and the keys of the bench file; what goes over the wire is looked
at by a relay between the two."""
import json
import pathlib
import re
import socket
import subprocess
import sys
import threading

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import Sim, expect, eyelevel, finish, folder  # noqa: E402


class Relay:
    """Carries connections to a port and keeps what went over them."""

    def __init__(self, to):
        self.to, self.seen = to, bytearray()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.port = self.listener.getsockname()[1]
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            here, _ = self.listener.accept()
            there = socket.create_connection(("127.0.0.1", self.to))
            for one, other in ((here, there), (there, here)):
                threading.Thread(target=self.carry, args=(one, other), daemon=True).start()

    def carry(self, one, other):
        try:
            while data := one.recv(65536):
                self.seen += data
                other.sendall(data)
            other.shutdown(socket.SHUT_WR)
        except OSError:
            pass  # the other direction has ended it


def hislip_of(sim):
    scope = next(i for i in sim.instruments if i["kind"] == "oscilloscope")
    return next(r for r in scope["resources"] if "hislip" in r)


def told(process):
    return process.returncode, process.stdout + process.stderr


with folder() as at, Sim("--encrypt") as sim:
    at = pathlib.Path(at)
    fingerprint = json.loads(sim.line)["certificate"]
    resource = hislip_of(sim)
    name, port = re.fullmatch(r"(.*hislip\d+),(\d+)::INSTR", resource).groups()
    relay = Relay(int(port))
    over_relay = f"{name},{relay.port}::INSTR"

    asked = eyelevel("ask", over_relay, "*IDN?", "--certificate", fingerprint)
    expect("an encrypted instrument answers", asked.returncode == 0 and "Simulated oscilloscope" in asked.stdout, told(asked))
    expect("the relay saw both connections begin", relay.seen.count(b"HS\x00") == 1 and relay.seen.count(b"HS\x11") == 1, bytes(relay.seen[:200]))
    expect("neither question nor answer is legible on the wire", b"*IDN?" not in relay.seen and b"Simulated" not in relay.seen)

    plain = eyelevel("ask", resource, "*IDN?")
    expect("without a certificate the message says that it is needed",
           plain.returncode == 3 and "accepts encrypted connections only" in plain.stderr and "try:" in plain.stderr, told(plain))
    other = ("00" if fingerprint[:2] != "00" else "01") + fingerprint[2:]
    wrong = eyelevel("ask", resource, "*IDN?", "--certificate", other)
    expect("another certificate is refused, and both fingerprints are shown",
           wrong.returncode == 3 and fingerprint in wrong.stderr and other in wrong.stderr, told(wrong))

    bad = eyelevel("ask", resource, "*IDN?", "--certificate", "12:34")
    expect("what is no fingerprint is wrong input", bad.returncode == 2 and "neither a .pem file nor a fingerprint" in bad.stderr, told(bad))
    missing = eyelevel("ask", resource, "*IDN?", "--certificate", at / "none.pem")
    expect("a file that is not there is named", missing.returncode == 2 and "none.pem" in missing.stderr, told(missing))
    alone = eyelevel("ask", resource, "*IDN?", "--login", at / "login")
    expect("a password needs a certificate", alone.returncode == 2 and "encrypted connections only" in alone.stderr, told(alone))
    on_socket = eyelevel("ask", sim.resource("oscilloscope"), "*IDN?", "--certificate", fingerprint)
    expect("a raw socket cannot be encrypted, and is not used", on_socket.returncode == 2 and "only HiSLIP is encrypted" in on_socket.stderr, told(on_socket))

    bench = sim.bench_file(at)
    text = bench.read_text().replace(sim.resource("oscilloscope"), over_relay)
    key = f"resource: {over_relay}\n    certificate: "
    relay.seen.clear()
    bench.write_text(text.replace(f"resource: {over_relay}", key + fingerprint))
    (at / "answers.yaml").write_text("answers: [done]\n")
    run = ["run", "sequences/ready/pickup-level.yaml", "--serial", "LF2-00417", "--answers", at / "answers.yaml", "--store", at / "records.db",
           "--bench", bench]
    done = eyelevel(*run)
    expect("a sequence runs by the bench file's certificate", done.returncode in (0, 1), told(done))
    expect("and nothing of it is legible on the wire", len(relay.seen) > 10000 and b"*IDN?" not in relay.seen and b"Simulated" not in relay.seen,
           len(relay.seen))
    bench.write_text(text.replace(f"resource: {over_relay}", key + fingerprint + "\n    encryption: login only"))
    kept = eyelevel(*run)
    expect("an instrument that must be spoken to encrypted does not end it after the login, and says so",
           kept.returncode == 3 and "does not end encryption after the login" in told(kept)[1], told(kept))
    bench.write_text(text.replace(f"resource: {over_relay}", key + "12:34"))
    wrong = eyelevel(*run)
    expect("what is wrong with it is told with its place", wrong.returncode == 2 and re.search(r"bench\.yaml:\d+:\d+: scope", wrong.stderr), told(wrong))

with folder() as at, Sim() as sim:
    clear = eyelevel("ask", hislip_of(sim), "*IDN?", "--certificate", fingerprint)
    expect("an instrument without encryption is told, and asked nothing in the clear",
           clear.returncode == 3 and "has no encryption" in clear.stderr, told(clear))
    certificate, login = pathlib.Path(at) / "own.pem", pathlib.Path(at) / "own.login"
    subprocess.run(["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-keyout", "/dev/null",
                    "-subj", "/CN=scope", "-out", certificate], check=True, capture_output=True)
    login.write_text("no colon\n")
    for_file = eyelevel("ask", hislip_of(sim), "*IDN?", "--certificate", certificate)
    expect("a certificate in a file is read", for_file.returncode == 3 and "has no encryption" in for_file.stderr, told(for_file))
    no_colon = eyelevel("ask", hislip_of(sim), "*IDN?", "--certificate", certificate, "--login", login)
    expect("a login without a colon is wrong input", no_colon.returncode == 2 and "USER:PASSWORD" in no_colon.stderr, told(no_colon))
finish()
