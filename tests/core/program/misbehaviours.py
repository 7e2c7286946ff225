# SPDX-License-Identifier: Apache-2.0
"""`sim --misbehave`: what a user is told of each misbehaviour, over every LAN transport: the exit status, words that say what
happened and what to try, within the time that was given. In a network of its own, because VXI-11 needs port 111; without
the right to make one VXI-11 is left out and said so."""
import json
import os
import pathlib
import shutil
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from hostile import SEQUENCE  # noqa: E402
from program import PROGRAM, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

OWN_NETWORK = ["unshare", "--net"] if os.geteuid() == 0 else ["unshare", "--map-root-user", "--net"]
if "--inside" not in sys.argv and shutil.which("unshare") and shutil.which("ip", path="/usr/sbin:/sbin:/usr/bin:/bin"):
    if subprocess.run([*OWN_NETWORK, "true"], capture_output=True).returncode == 0:
        sys.exit(subprocess.run([*OWN_NETWORK, sys.executable, *sys.argv, "--inside"]).returncode)
INSIDE = "--inside" in sys.argv
if INSIDE:
    subprocess.run(["ip", "link", "set", "lo", "up"], check=True, env={**os.environ, "PATH": os.environ["PATH"] + ":/usr/sbin:/sbin"})
else:
    print("no network of its own (unshare --net): VXI-11 is left out")

WITHIN_S = 0.6
# One deadline for opening, one for the exchange; the rest is a loaded machine and the start of the program.
LONGEST_S = 2 * WITHIN_S + 6
SOCKET, HISLIP, VXI11 = "socket", "hislip", "vxi11"
ALL = (SOCKET, HISLIP, VXI11)
CAPTURE = "FORM REAL,32;:SWE:POIN 1000;:READ?"


def carrier_of(resource):
    return SOCKET if resource.endswith("SOCKET") else HISLIP if "hislip" in resource else VXI11


# misbehaviour, query, what is told over these carriers: exit status, words on either stream
ROWS = [
    ("silent", "*IDN?", {ALL: (3, ["no answer within 0.60 s", "*IDN?", "try:"])}),
    ("late=0.2", "*IDN?", {ALL: (0, ["Simulated oscilloscope"])}),
    ("late=30", "*IDN?", {ALL: (3, ["no answer within 0.60 s", "*IDN?", "try:"])}),
    ("trickle=0.1", "*IDN?", {ALL: (3, ["no complete answer within 0.60 s", 'bytes "Ey', "try:"])}),
    ("trickle=0.001", "*IDN?", {ALL: (0, ["Simulated oscilloscope"])}),
    ("garbage", "*IDN?", {(SOCKET, HISLIP, VXI11): (0, ["\\x01", "\u00ff~?~"])}),
    ("signs-in-identity", "*IDN?", {ALL: (0, ["5 \u00b5V 20 \u00b0C\\x1b]0;gone\\x07,\\x1b[2J7"])}),
    # Until its time is up, or, on a fast machine, the answer is as long as any may be.
    ("endless-answer", "*IDN?", {ALL: (3, ["bytes", ("within 0.60 s", "longer than the limit")])}),
    ("stops-within-answer", "*IDN?", {ALL: (3, ["no complete answer within 0.60 s, 18 bytes came", "try:"])}),
    ("stops-within-answer=1", "*IDN?", {ALL: (3, ['no complete answer within 0.60 s, 1 bytes came', "try:"])}),
    # VXI-11: a question that the closing end had not read yet makes it a reset (RFC 9293, 3.10.4).
    ("close-in-answer", "*IDN?", {(SOCKET, HISLIP): (3, ["closed", "Eyelevel,Simulated", "try:"]), VXI11: (3, ["received 18 bytes", "Eyelevel,Simulated", "try:"])}),
    ("close-in-answer=0", "*IDN?", {(SOCKET, HISLIP): (3, ["closed", "try:"]), VXI11: (3, ["device_read: ", "try:"])}),
    ("close-after-answer", "*IDN?", {ALL: (0, ["Simulated oscilloscope"])}),
    ("block-too-short", CAPTURE, {SOCKET: (3, ["no complete answer within"]), (HISLIP, VXI11): (3, ["ends 3 bytes too early"])}),
    ("block-too-long", CAPTURE, {ALL: (3, ["should end the block that came before it"])}),
    ("block-without-length", CAPTURE, {SOCKET: (3, ["#0"]), (HISLIP, VXI11): (0, ["a block of"])}),
    ("not-a-number", CAPTURE, {ALL: (0, ["a block of 4006 bytes"])}),
    ("error-in-queue=-310", "*OPC?;:SYST:ERR?", {SOCKET: (0, ['0,"No error"']), (HISLIP, VXI11): (0, ['-310,"System error;simulated"'])}),
    ("setting-not-taken=INP1:ATT", "INP1:ATT 7;ATT?", {ALL: (0, ["1.000000000E+00"])}),
    # Turned once, after the first answer: the sockets come first, and the others find what it was turned to.
    ("knob-turned=INP1:ATT 7", "INP1:ATT?", {SOCKET: (0, ["1.000000000E+00"]), (HISLIP, VXI11): (0, ["7.000000000E+00"])}),
    ("no-service-requests", "*IDN?", {ALL: (0, ["Simulated oscilloscope"])}),
    ("wrong-status-byte", "*IDN?", {ALL: (0, ["Simulated oscilloscope"])}),
    ("locked", "*IDN?", {SOCKET: (0, ["Simulated oscilloscope"]), HISLIP: (3, ["no answer within 0.60 s", "someone else has locked the instrument"]), VXI11: (3, ["lock"])}),
    ("deaf", "*IDN?", {SOCKET: (3, ["no answer within 0.60 s"]), (HISLIP, VXI11): (3, ["no connection within 0.60 s", "try:"])}),
    ("wrong-message-id", "*IDN?", {SOCKET: (0, ["Simulated"]), (HISLIP, VXI11): (3, ["no answer within 0.60 s", "1 answer to other messages came"])}),
    ("wrong-message-type", "*IDN?", {SOCKET: (0, ["Simulated"]), HISLIP: (3, ["Trigger"]), VXI11: (3, ["device_read"])}),
]


def is_said(word, said):
    """A word, or one of several."""
    return any(one in said for one in word) if isinstance(word, tuple) else word in said


def check(name, query, expected):
    with Sim("--misbehave", "scope:" + name, any_port=not INSIDE) as sim:
        scope = next(i for i in sim.instruments if i["name"] == "scope")
        for resource in scope["resources"]:
            carrier = carrier_of(resource)
            status, words = next(v for k, v in expected.items() if carrier in k)
            begun = time.monotonic()
            done = eyelevel("ask", resource, query, "--within", WITHIN_S)
            took = time.monotonic() - begun
            said = done.stdout + done.stderr
            good = done.returncode == status and all(is_said(word, said) for word in words) and took < LONGEST_S
            good = good and not any(ord(c) < 32 and c not in "\n\t" for c in said)
            expect(f"{name} over {carrier} ({took:.1f} s)", good, f"status {done.returncode}, expected {status} and {words}:\n{said[:1500]}")
        expect(f"{name}: the simulated bench still stands", sim.process.poll() is None)


# What a run says: misbehaviour of the scope, code of the error, words.
RUNS = [
    ("garbage", {"bad_answer"}, ["\\x01"]),
    ("signs-in-identity", {"bad_answer"}, ["\\x1b[2J", "*IDN?"]),
    ("long-answer=100", {"bad_answer"}, ["1024 bytes"]),
    ("endless-answer", {"bad_answer"}, ["1024 bytes"]),
    ("close-in-answer@12", {"connection_lost"}, []),
    ("block-too-long", {"bad_answer"}, ["should end the block"]),
    ("error-in-queue=-310@5", {"instrument_error"}, ["-310", "System error"]),
    ("setting-not-taken=INP1:ATT", {"setting_not_taken"}, ["probe factor"]),
    ("not-a-number@5", {"bad_answer", "setting_not_taken"}, []),
]


def run_over(carrier, name, codes, words):
    with folder() as at, Sim("--misbehave", "scope:" + name, any_port=not INSIDE) as sim:
        at = pathlib.Path(at)
        scope = next(i for i in sim.instruments if i["name"] == "scope")
        resource = next(r for r in scope["resources"] if carrier_of(r) == carrier)
        bench = sim.bench_file(at)
        bench.write_text(bench.read_text().replace(scope["resources"][0], resource))
        (at / "hostile.yaml").write_text(SEQUENCE)
        begun = time.monotonic()
        done = eyelevel("run", at / "hostile.yaml", "--bench", bench, "--store", at / "s.db", "--json")
        took = time.monotonic() - begun
        unit = (as_json(done) or {"units": [{"error": {}, "ended": None}]})["units"][0]
        error = unit["error"] or {}
        good = done.returncode == 3 and unit["ended"] == "stopped" and error.get("code") in codes and error.get("advice")
        # Greeting may take 10 s, the steps their own times, the closing 2 s.
        good = good and took < 30 and all(word in json.dumps(error, ensure_ascii=False) for word in words)
        expect(f"run: {name} over {carrier} ({took:.1f} s)", good, f"{done.returncode} {unit['ended']} {error} {done.stderr[-500:]}")


listed = as_json(eyelevel("sim", "--list-misbehaviours", "--json"))
tried = {row[0].split("=")[0] for row in ROWS} | {"long-answer"}
expect("every misbehaviour of the list is tried here", {one["name"] for one in listed} == tried, {one["name"] for one in listed} ^ tried)
shown = eyelevel("sim", "--list-misbehaviours").stdout.splitlines()
expect("the list says in one line what each does", len(shown) == len(listed) and all(len(line.split("  ")) > 1 for line in shown), shown)

for text, words in (("nonsense", ["there is none of this name", "--list-misbehaviours"]),
                    ("late=soon", ["is no number from"]), ("silent=3", ["it takes no value"]),
                    ("setting-not-taken", ["which setting?"]), ("late@0", ["is no number from"]),
                    ("oven:late", ['no instrument "oven"', "scope"]),
                    ("meter:setting-not-taken=SWE:POIN", ["meter", 'no command "SWE:POIN"'])):
    done = eyelevel("sim", "examples/bench.yaml", "--any-port", "--misbehave", text)
    expect(f"--misbehave {text} is refused", done.returncode == 2 and all(word in done.stderr for word in words), done.stderr)

for row in ROWS:
    check(*row)
for row in RUNS:
    for carrier in ALL if INSIDE else (SOCKET, HISLIP):
        run_over(carrier, *row)

finish()
