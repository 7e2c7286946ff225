# SPDX-License-Identifier: Apache-2.0
"""Dead and misbehaving oscilloscopes on real TCP: whatever they send, the run ends in time with exit status 3 and a message that
says what was sent, what came and what to try; the closing ran, the record is closed and can be reported."""
import concurrent.futures
import pathlib
import resource
import socket
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from hostile import SEQUENCE, Hostile  # noqa: E402
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

# Greeting may take 10 s, every step its `within`, what the closing could not reach 10 s more; the rest is a loaded machine.
LONGEST_S = 45
MEMORY_KB_MOST = 700_000 * (4 if "asan" in PROGRAM else 1)


def instead(query, bytes_sent, times=None):
    """Answers to messages that contain `query` are replaced, the first `times` of them."""
    def damage(message, answer, client, seen=[0]):
        if query in message and answer:
            seen[0] += 1
            if times is None or seen[0] <= times:
                return bytes_sent(answer) if callable(bytes_sent) else bytes_sent
        return answer
    return damage


def closing(query, sent):
    def damage(message, answer, client):
        if query not in message:
            return answer
        client.sendall(sent(answer))
        client.shutdown(socket.SHUT_RDWR)
    return damage


def trickle(query, delay_s):
    """One byte each `delay_s`, until the client gives up."""
    def damage(message, answer, client):
        if query not in message:
            return answer
        for byte in answer:
            client.sendall(bytes([byte]))
            stopped.wait(delay_s)
    return damage


def endless(query, piece, header=b""):
    def damage(message, answer, client):
        if query not in message:
            return answer
        client.sendall(header)
        while True:
            client.sendall(piece)
    return damage


def late(query, delay_s):
    def damage(message, answer, client):
        if query in message and answer:
            stopped.wait(delay_s)
        return answer
    return damage


def header(text):
    return lambda answer: text + answer[answer.index(b"#") + 7:]


def number(at, value):
    """The element `at` of an answer of several units becomes `value`."""
    def change(answer):
        units = answer.rstrip(b"\n").split(b";")
        units[at] = value
        return b";".join(units) + b"\n"
    return change


def errors_after(query):
    return instead(query, lambda answer: answer.replace(b'0,"No error"', b'-310,"System error"'))


def errors_of(said):
    return instead(b":SYSTem:ERRor?\n", said + b"\n", 1)


stopped = threading.Event()
FETCH, OPC, IDN, ERR = b"FETCh", b"INITiate", b"*IDN", b"SYSTem:ERRor"
READ_BACK, ABILITY, SWEEP, POINTS = b"ATTenuation?", b"MINimum", b"FUNCtion:ON?", b"SWEep:POINts?;"

# name, damage, codes that may be told, words that must be in the message
CASES = [
    ("never answers *IDN?", instead(IDN, b""), {"time_out"}, ["*IDN?"]),
    ("garbage to *IDN?", instead(IDN, b"\x00\xff\xfe\x01\x80\n"), {"bad_answer"}, ["*IDN?"]),
    ("empty answer to *IDN?", instead(IDN, b"\n"), {"bad_answer"}, ["*IDN?"]),
    ("very long answer to *IDN?", instead(IDN, b"A" * 100_000 + b"\n"), {"bad_answer"}, ["*IDN?"]),
    ("100 MB to *IDN?", instead(IDN, b"A" * 100_000_000 + b"\n"), {"bad_answer", "time_out"}, ["*IDN?", "1024"]),
    ("a screen that is cleared in *IDN?", instead(IDN, b"Eyelevel,\x1b[2J\x07\r\x9b,0,1.0\n"), {"bad_answer"}, ["*IDN?"]),
    ("closes instead of *IDN?", closing(IDN, lambda a: b""), {"connection_lost"}, ["*IDN?"]),
    ("closes in the middle of the block", closing(FETCH, lambda a: a[:20_000]), {"connection_lost"}, ["FETCh"]),
    ("closes before the block", closing(FETCH, lambda a: b""), {"connection_lost"}, ["FETCh"]),
    ("half of a block, then nothing", instead(FETCH, lambda a: a[:20_000]), {"time_out"}, ["FETCh"]),
    ("block header too long by one", instead(FETCH, header(b"#540001")), {"bad_answer", "time_out"}, ["FETCh"]),
    ("block header too long", instead(FETCH, header(b"#560000")), {"time_out"}, ["FETCh"]),
    ("block header too short", instead(FETCH, header(b"#539996")), {"bad_answer"}, ["FETCh"]),
    ("block shorter than asked", instead(FETCH, b'#15abcde;0,"No error"\n'), {"bad_answer"}, ["FETCh"]),
    ("negative block length", instead(FETCH, header(b"#2-5")), {"bad_answer"}, ["FETCh"]),
    ("block length of nine nines", instead(FETCH, header(b"#9999999999")), {"bad_answer"}, ["the block at byte 1", "999999999 bytes"]),
    ("a screen that is cleared by the error queue", errors_of(b'-310,"\x1b[2J\x9b"'), {"instrument_error"}, ["-310", "x1b[2J"]),
    ("empty block", instead(FETCH, b'#10;0,"No error"\n'), {"bad_answer"}, ["FETCh"]),
    ("indefinite block", instead(FETCH, header(b"#0")), {"bad_answer"}, ["#0"]),
    ("10 GB announced", instead(FETCH, header(b"#9999999999")), {"bad_answer"}, ["bytes"]),
    ("4 GB announced and sent", endless(FETCH, b"\0" * 65536, b"#9400000000"), {"bad_answer"}, ["bytes"]),
    ("200 MB announced and sent", endless(FETCH, b"\0" * 65536, b"#9200000000"), {"bad_answer", "time_out"}, ["FETCh"]),
    ("block header of letters", instead(FETCH, header(b"#A")), {"bad_answer"}, ["FETCh"]),
    ("block header cut", instead(FETCH, b"#5\n"), {"bad_answer", "time_out"}, ["FETCh"]),
    ("text for the block", instead(FETCH, b'1.0,2.0,3.0;0,"No error"\n'), {"bad_answer"}, ["FETCh"]),
    ("one byte a second", trickle(b"?", 1.0), {"time_out"}, ["?"]),
    ("one byte a second of the block", trickle(FETCH, 1.0), {"time_out"}, ["FETCh"]),
    ("late answers", late(b"?", 6), {"time_out"}, []),
    ("late capture", late(OPC, 8), {"time_out"}, ["INITiate"]),
    ("line without an end", endless(IDN, b"A" * 65536), {"bad_answer", "time_out"}, ["*IDN?"]),
    ("bytes that are high and low without an end", endless(FETCH, bytes(range(11, 256)) * 100), {"bad_answer", "time_out"}, ["FETCh"]),
    ("lines without an end", endless(IDN, b"A\n" * 30000), {"bad_answer", "instrument_error", "time_out"}, []),
    ("nan in a number", instead(READ_BACK, number(2, b"NAN")), {"bad_answer"}, ["NAN"]),
    ("inf in a number", instead(READ_BACK, number(2, b"INF")), {"bad_answer"}, ["INF"]),
    ("9.91E37 for the range", instead(READ_BACK, number(2, b"9.91E37")), {"setting_not_taken"}, ["screen"]),
    ("9.9E37 for the range", instead(READ_BACK, number(2, b"9.9E37")), {"setting_not_taken"}, ["screen"]),
    ("9.91E37 for the offset", instead(READ_BACK, number(3, b"9.91E37")), {"setting_not_taken"}, ["screen"]),
    ("9.91E37 for the probe factor", instead(READ_BACK, number(0, b"9.91E37")), {"setting_not_taken"}, ["probe factor"]),
    ("9.91E37 for the least interval", instead(ABILITY, number(0, b"9.91E37")), {"bad_answer"}, ["interval"]),
    ("9.91E37 for the most points", instead(ABILITY, number(1, b"9.91E37")), {"bad_answer"}, ["points"]),
    ("a negative interval", instead(SWEEP, number(1, b"-5E-8")), {"setting_not_taken"}, ["sample rate"]),
    ("9.91E37 for the interval", instead(SWEEP, number(1, b"9.91E37")), {"setting_not_taken"}, ["sample rate"]),
    ("9.91E37 for the points", instead(POINTS, number(0, b"9.91E37")), {"setting_not_taken"}, ["memory"]),
    ("9.9E37 for the points", instead(POINTS, number(0, b"9.9E37")), {"setting_not_taken"}, ["memory"]),
    ("1E300 for the points", instead(POINTS, number(0, b"1E300")), {"setting_not_taken"}, ["memory"]),
    ("a number beyond double", instead(READ_BACK, number(2, b"1E999")), {"bad_answer", "setting_not_taken"}, []),
    ("too few units in the answer", instead(READ_BACK, b"10\n"), {"bad_answer"}, ["ATTenuation"]),
    ("too many units in the answer", instead(READ_BACK, lambda a: b"1;" + a), {"bad_answer", "setting_not_taken"}, ["ATTenuation"]),
    ("NUL bytes in the answer", instead(READ_BACK, b"\0" * 50 + b"\n"), {"bad_answer"}, ["ATTenuation"]),
    ("a setting is not taken", instead(READ_BACK, number(2, b"1.0")), {"setting_not_taken"}, ["screen"]),
    ("coupling is not taken", instead(READ_BACK, number(1, b"AC")), {"setting_not_taken"}, ["coupling"]),
    ("an error after each group", errors_after(ERR), {"instrument_error"}, ["-310"]),
    ("an error after the capture", errors_after(FETCH), {"instrument_error"}, ["-310"]),
    ("an error queue without an end", instead(ERR, b'-310,"System error"\n'), {"instrument_error"}, ["-310"]),
    ("an error queue that says nothing", instead(b":SYSTem:ERRor?\n", b"\n"), {"bad_answer"}, []),
    ("*OPC? says 0", instead(OPC, b"0\n"), {"bad_answer"}, ["OPC"]),
    ("NaN among the samples", instead(FETCH, lambda a: a[:15] + b"\0\0\xc0\x7f" + a[19:]), {"bad_answer"}, ["FETCh"]),
    ("infinity among the samples", instead(FETCH, lambda a: a[:15] + b"\0\0\x80\x7f" + a[19:]), {"bad_answer"}, ["FETCh"]),
]


def dead_port():
    """A port where nobody listens."""
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return taken.getsockname()[1]


def run_on(at, resource_name, sim, sequence=SEQUENCE):
    bench = sim.bench_file(at)
    bench.write_text(bench.read_text().replace(sim.resource("oscilloscope"), resource_name))
    (at / "hostile.yaml").write_text(sequence)
    begun = time.monotonic()
    done = eyelevel("run", at / "hostile.yaml", "--bench", bench, "--store", at / "s.db", "--json", timeout=200)
    return done, time.monotonic() - begun


def check(done, took_s, at, codes, words):
    problems = []
    unit = (as_json(done) or {"units": [{"error": None, "ended": None}]})["units"][0]
    error = unit["error"] or {}
    if done.returncode != 3 or unit["ended"] != "stopped":
        problems.append(f"exit status {done.returncode}, ended {unit['ended']}, expected 3 and stopped")
    late = error.get("code") == "wait_ran_out" and "time_out" in codes  # the step's own time ended first
    if error.get("code") not in codes and not late:
        problems.append(f"code {error.get('code')}, expected one of {sorted(codes)}")
    problems += [f"the message lacks {word!r}" for word in words if word not in str(error) and not late]
    if not error.get("advice"):
        problems.append("nothing to try")
    if took_s > LONGEST_S:
        problems.append(f"it took {took_s:.1f} s")
    raw = [c for c in done.stdout + done.stderr if ord(c) < 32 and c not in "\n\t" or 0x7F <= ord(c) < 0xA0]
    if raw:
        problems.append(f"control characters came through: {raw[:5]}")
    if "anitizer" in done.stderr or "runtime error" in done.stderr or "defect" in str(error):
        problems.append("a defect: " + done.stderr[:1000])
    runs = as_json(eyelevel("records", "--store", at / "s.db", "--json"))
    if not runs or runs[0]["ended"] != "stopped":
        problems.append(f"the record is not closed: {runs}")
    for command in (("report", "last", "--store", at / "s.db", "-o", at / "x.png"), ("export", "last", "--store", at / "s.db", "-o", at / "x")):
        shown = eyelevel(*command)
        if shown.returncode != 0:
            problems.append(f"{command[0]}: {shown.stderr}")
    return problems, error


def one(case):
    name, damage, codes, words = case
    with folder() as at, Sim("--seed", 5) as sim:
        at = pathlib.Path(at)
        if damage is None:
            done, took = run_on(at, f"TCPIP0::127.0.0.1::{dead_port()}::SOCKET", sim)
            return name, *check(done, took, at, codes, words), took
        host, port = sim.resource("oscilloscope").split("::")[1:3]
        scope = Hostile(host, int(port), damage)
        done, took = run_on(at, scope.resource, sim)
        scope.close()
        problems, error = check(done, took, at, codes, words)
        # One that never stops sending does not listen to its end.
        if "without an end" not in name and not any(b"ABORt;*CLS" in line for line in scope.heard):
            problems.append("the closing never told it to stop")
        return name, problems, error, took


def signs_reach_every_output():
    """Latin-1 signs in an identity are no control characters: the run goes on, and every output has them in UTF-8."""
    with folder() as at, Sim("--seed", 5) as sim:
        at = pathlib.Path(at)
        host, port = sim.resource("oscilloscope").split("::")[1:3]
        scope = Hostile(host, int(port), instead(IDN, b"Lanternfield,5 \xb5V \xb0C,\xa7,1.0\n"))
        # As long as a loaded machine may need.
        done, _ = run_on(at, scope.resource, sim, SEQUENCE.replace("within: 4 s", "within: 60 s"))
        told = eyelevel("run", at / "hostile.yaml", "--bench", at / "bench.yaml", "--store", at / "s.db")
        shown = [eyelevel("report", "last", "--store", at / "s.db", "-o", at / "x.pdf"), eyelevel("export", "last", "--store", at / "s.db", "-o", at / "x")]
        scope.close()
        name = "Lanternfield,5 \u00b5V \u00b0C,\u00a7,1.0"
        expect("signs in an identity do not stop a run", done.returncode == 0 and told.returncode == 0, done.stdout[:600] + told.stdout[-600:] + told.stderr)
        expect("they are told in UTF-8", name in told.stdout, told.stdout)
        expect("reports and exports are written", all(one.returncode == 0 for one in shown), "".join(one.stderr for one in shown))
        texts = [p.read_bytes() for p in (at / "x").rglob("*") if p.suffix in (".json", ".csv", ".jsonl")]
        expect("the export has them in UTF-8", any(name.encode() in text for text in texts), [text[:300] for text in texts])


wanted = sys.argv[2:]
cases = [("connection refused", None, {"no_connection"}, ["connect"])] + CASES
cases = [c for c in cases if not wanted or c[0] in wanted]
with concurrent.futures.ThreadPoolExecutor(8) as pool:
    for name, problems, error, took in pool.map(one, cases):
        expect(f"{name} ({took:.1f} s)", not problems, "\n       ".join(problems) + f"\n       {error}")
if not wanted:
    signs_reach_every_output()
peak_kb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss
expect("memory stays bounded", peak_kb < MEMORY_KB_MOST, f"{peak_kb} kB")
stopped.set()
finish()
