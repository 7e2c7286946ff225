# SPDX-License-Identifier: Apache-2.0
"""`ask`: one query, a trace of it, a session from a pipe, and one on a terminal with completion and history."""
import os
import pathlib
import pty
import re
import select
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, Sim, expect, eyelevel, finish, folder  # noqa: E402


class Terminal:
    """A program on a pseudo-terminal."""

    def __init__(self, *arguments):
        master, slave = pty.openpty()
        self.master = master
        self.process = subprocess.Popen([PROGRAM, *arguments], stdin=slave, stdout=slave, stderr=slave, cwd=TOP,
                                        env={**os.environ, "TERM": "vt100"}, start_new_session=True)
        os.close(slave)
        self.seen = ""

    def until(self, pattern, within=30):
        end = time.monotonic() + within
        while not re.search(pattern, self.seen) and time.monotonic() < end:
            if select.select([self.master], [], [], 0.2)[0]:
                try:
                    self.seen += os.read(self.master, 4096).decode(errors="replace")
                except OSError:
                    break
        return re.search(pattern, self.seen) is not None

    # The exit status; None if it goes on. What it still says is read first: a terminal that nobody reads holds it up.
    def ends(self, within=30):
        self.until("never", within)
        try:
            return self.process.wait(within)
        except subprocess.TimeoutExpired:
            return None

    def type(self, text):
        self.seen = ""
        os.write(self.master, text.encode())


with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    scope = sim.resource("oscilloscope")

    traced = eyelevel("ask", scope, "*IDN?", "--trace")
    lines = traced.stderr.splitlines()
    expect("the answer stays alone on standard output", traced.stdout.count("\n") == 1 and traced.stdout.count(",") == 3, traced.stdout)
    expect("a trace shows what was sent and what came, with time and length",
           len(lines) >= 2 and re.fullmatch(r" *\d+\.\d{6} s  sent  5 bytes  \*IDN\?", lines[0]) is not None
           and re.match(r" *\d+\.\d{6} s  came  \d+ bytes  Eyelevel,", lines[1]) is not None, traced.stderr)

    piped = eyelevel("ask", scope, input="*IDN?\n\nFORM REAL,32\nSWE:POIN 100\n:INIT;*OPC?\n"
                                         f"FETC:ARR:VOLT? (@1) > {at}/volts.bin\nFETC:ARR:VOLT? (@1)\nSYST:ERR?\n")
    out = piped.stdout.splitlines()
    expect("a session from a pipe answers line by line",
           piped.returncode == 0 and len(out) == 4 and out[1] == "1" and out[2].startswith("a block of 405 bytes")
           and out[3] == '0,"No error"', piped.stdout + piped.stderr)
    block = (at / "volts.bin").read_bytes()
    expect("> FILE keeps the answer's bytes", len(block) == 405 and block.startswith(b"#3400"), block[:10])

    silent = eyelevel("ask", scope, "--within", 0.2, input="NONSENSE?\n*IDN?\n")
    expect("what goes wrong with one line is told, and the next one works",
           silent.returncode == 3 and "no answer within 0.20 s" in silent.stderr and silent.stdout.count(",") == 3,
           silent.stdout + silent.stderr)

    many = ["SWE:POIN 5000000", ":INIT;*OPC?", f"FETC:ARR:VOLT? (@1) > {at}/many.bin"]
    quiet = eyelevel("ask", scope, "--within", 60, input="FORM REAL,32\n" + "\n".join(many) + "\n")
    expect("a large block tells nothing of its progress where nobody watches a terminal",
           quiet.stderr == f"20000010 bytes to {at}/many.bin\n", quiet.stderr)
    watched = Terminal("ask", scope, "FETC:ARR:VOLT? (@1)", "--within", "60", "-o", f"{at}/again.bin")
    expect("and on a terminal what has come of it is shown, up to all of it", watched.ends() == 0, watched.seen)
    shares = [int(share) for share in re.findall(r"\r(\d+) % of 20\.0 MB", watched.seen)]
    expect("each share once, in their order", len(shares) > 1 and shares == sorted(set(shares)) and shares[-1] == 100
           and watched.seen.endswith(f"\r100 % of 20.0 MB\r\n20000010 bytes to {at}/again.bin\r\n"), watched.seen)

    terminal = Terminal("ask", scope)
    expect("a terminal gets a prompt", terminal.until(r"\n> "), terminal.seen)
    terminal.type("*ID\t\r")
    expect("Tab completes a standard header", terminal.until(r"Eyelevel,Simulated oscilloscope,[^\n]*\r\n> "), terminal.seen)
    terminal.type("\x1b[A\r")
    expect("the key upwards brings the last line again",
           terminal.until(r"Eyelevel,Simulated oscilloscope,[^\n]*\r\n> "), terminal.seen)
    terminal.type("\x04")
    expect("Ctrl-D ends the session with 0", terminal.ends() == 0, terminal.seen)

    # The prompt stands before the terminal hears single keys: this end comes early, most of the time.
    for _ in range(5):
        hasty = Terminal("ask", scope)
        hasty.until("ends.\r\n")
        hasty.type("\x04")
        expect("Ctrl-D typed before its turn ends the session, too", hasty.ends() == 0, hasty.seen)

finish()
