#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A general-purpose VISA client that nobody here wrote talks to a simulated bench over raw sockets.

Takes the JSON line of `eyelevel sim --json` on standard input, or resource names as arguments (oscilloscope first, then
multimeter). Needs the Debian packages python3-pyvisa and python3-pyvisa-py. Exit status 0 when everything held; 77 when
the client library is not installed (ctest's skip return code), with the reason printed.
"""
import json
import struct
import sys
import time

try:
    import pyvisa
    import pyvisa_py  # noqa: F401 (the backend that "@py" names)
except ImportError as missing:
    print(f"skipped: {missing}; install python3-pyvisa and python3-pyvisa-py")
    sys.exit(77)

POINTS = 1_000_000
failures = []


def check(name, good, seen=""):
    print(("ok    " if good else "WRONG ") + name + (f": {seen}" if not good else ""))
    if not good:
        failures.append(name)


def resources():
    if len(sys.argv) > 1:
        kinds = ["oscilloscope", "multimeter"]
        return dict(zip(kinds, sys.argv[1:]))
    line = sys.stdin.readline()
    found = {}
    for instrument in json.loads(line)["instruments"]:
        for name in instrument["resources"]:
            if name.endswith("::SOCKET"):
                found.setdefault(instrument["kind"], name)
    return found


def opened(manager, name):
    return manager.open_resource(name, read_termination="\n", write_termination="\n", timeout=20000)


def drained(device):
    errors = []
    for _ in range(50):
        answer = device.query("SYST:ERR?")
        if answer.startswith("0,") or answer.startswith("+0,"):
            return errors
        errors.append(answer)
    return errors + ["the queue has no end"]


def exactly(device, count):
    data = b""
    while len(data) < count:
        # The client waits for whole chunks: one that is larger than what is left costs it two seconds.
        left = min(count - len(data), 1 << 20)
        data += device.read_bytes(left, chunk_size=left, break_on_termchar=False)
    return data


def block(device, query):
    """The data of one definite-length block (IEEE 488.2, 8.7.9), read by its length."""
    device.write(query)
    digits = exactly(device, 2)
    if digits[:1] != b"#" or not digits[1:].isdigit() or digits == b"#0":
        raise ValueError(f"{query}: no definite block but {digits!r}")
    length = int(exactly(device, int(digits[1:])))
    data = exactly(device, length)
    end = exactly(device, 1)
    if end != b"\n":
        raise ValueError(f"{query}: the block is followed by {end!r}")
    return data


def common(device, what):
    identity = device.query("*IDN?")
    # IEEE 488.2, 10.14: four fields, 72 characters at most.
    check(f"{what}: identity has four fields", identity.count(",") == 3 and len(identity) <= 72, identity)
    device.write("*CLS")
    device.write("NONSENSE:HEADER 1")
    error = device.query("SYST:ERR?")
    check(f"{what}: an unknown header is -113", error.startswith("-113,"), error)
    error = device.query("SYST:ERR?")
    check(f"{what}: then the queue is empty", error == '0,"No error"', error)
    check(f"{what}: *ESR? has the command error bit", int(device.query("*ESR?")) & 32 == 32)
    version = device.query("SYST:VERS?")
    check(f"{what}: SYSTem:VERSion? is 1999.0", version == "1999.0", version)
    check(f"{what}: *OPC? is 1", device.query("*OPC?") == "1")
    check(f"{what}: several queries make one answer", device.query("*ESE 36;*ESE?;*OPC?") == "36;1")


def settings(scope):
    rows = [
        ("INP1:COUP", "DC", "DC"), ("INP1:ATT", "10", 10), ("VOLT1:RANG:PTP", "4", 4), ("VOLT1:RANG:OFFS", "1.5", 1.5),
        ("SWE:POIN", "20000", 20000), ("SWE:TINT", "50 NS", 50e-9), ("TRIG:SOUR", "IMM", "IMM"), ("TRIG:SLOP", "NEG", "NEG"),
        ("SENSe:SWEep:POINts", "12345", 12345), ("FORM:BORD", "SWAP", "SWAP"),
    ]
    for header, value, expected in rows:
        scope.write(f"{header} {value}")
        answer = scope.query(f"{header}?")
        same = answer == expected if isinstance(expected, str) else abs(float(answer) - expected) <= 1e-9 * abs(expected)
        check(f"oscilloscope: {header} reads back", same, answer)
    scope.write("SWE:POIN 99999999999")
    error = scope.query("SYST:ERR?")
    check("oscilloscope: out of range is -222", error.startswith("-222,"), error)
    check("oscilloscope: and changes nothing", scope.query("SWE:POIN?") == "12345")
    check("oscilloscope: no error is left", drained(scope) == [])


def waveform(scope):
    scope.write(f"*RST;*CLS;:INP1:ATT 10;:VOLT1:RANG:PTP 4;OFFS 1.5;:SWE:POIN {POINTS};TINT 1E-8;:FORM:BORD SWAP")
    check("oscilloscope: an acquisition completes", scope.query("INIT;*OPC?") == "1")
    scope.write("FORM REAL,32")
    begun = time.monotonic()
    first = block(scope, "FETC:ARR:VOLT? (@1)")
    seconds = time.monotonic() - begun
    check("oscilloscope: 1 M points of REAL,32 are 4 MB", len(first) == 4 * POINTS, len(first))
    print(f"      ({len(first) / 1e6 / seconds:.0f} MB/s with this client)")
    volts = struct.unpack(f"<{POINTS}f", first)
    check("oscilloscope: every sample is a finite voltage in the range", all(-0.5001 <= v <= 3.5001 for v in volts))
    check("oscilloscope: the samples are not all alike", len(set(volts)) > 1)
    for bits, form, width in ((8, "b", 1), (16, "<h", 2)):
        scope.write(f"FORM INT,{bits}")
        preamble = [float(x) for x in scope.query("DATA:PRE? CH1").split(",")]
        check(f"oscilloscope: preamble of INT,{bits} has the points", preamble[0] == POINTS, preamble)
        scale, offset = preamble[3], preamble[4]
        codes = block(scope, "TRAC:DATA? CH1")
        order = "<" if width == 2 else ""
        values = struct.unpack(f"{order}{POINTS}{form[-1]}", codes)
        worst = max(abs(offset + scale * code - volt) for code, volt in zip(values, volts))
        # Single precision of a few volts.
        check(f"oscilloscope: INT,{bits} equals REAL,32 sample by sample", worst <= 1e-6, worst)
    scope.write("FORM REAL,32;FORM:BORD NORM")
    turned = struct.unpack(f">{POINTS}f", block(scope, "FETC:ARR:VOLT? (@1)"))
    check("oscilloscope: FETCh? repeats the same record, here in the other byte order", turned == volts)
    scope.write("SWE:POIN 500;:INIT;*WAI;:FORM ASC")
    text = scope.query("FETC:ARR:VOLT? (@1)").split(",")
    scope.write("FORM REAL,32;FORM:BORD SWAP")
    real = struct.unpack("<500f", block(scope, "FETC:ARR:VOLT? (@1)"))
    check("oscilloscope: ASCii equals REAL,32", len(text) == 500 and
          all(abs(float(t) - r) <= 2e-6 for t, r in zip(text, real)))
    check("oscilloscope: no error is left", drained(scope) == [])


def upload(scope):
    data = bytes((i * 7 + i // 256) % 256 for i in range(100_000))
    header = f"#{len(str(len(data)))}{len(data)}".encode()
    scope.write_raw(b"TRAC:DATA MINE," + header + data + b"\n")
    back = block(scope, "TRAC:DATA? MINE")
    check("oscilloscope: an uploaded block comes back byte by byte", back == data, len(back))
    check("oscilloscope: its name is in the catalogue", '"MINE"' in scope.query("TRAC:CAT?"))
    scope.write("TRAC:DEL MINE")
    scope.write("TRAC:DATA? MINE")
    error = scope.query("SYST:ERR?")
    check("oscilloscope: a deleted name is -224", error.startswith("-224,"), error)


def second_client(manager, name, scope):
    scope.write("TRIG:SOUR BUS;:INIT;*OPC?")
    other = opened(manager, name)
    check("oscilloscope: a second client is answered while the first waits for *OPC?", other.query("*IDN?").count(",") == 3)
    other.write("*TRG")
    check("oscilloscope: the trigger lets the first one go on", scope.read().strip() == "1")
    other.close()
    scope.write("TRIG:SOUR IMM")


def meter_reading(meter):
    meter.write("CONF:VOLT:DC 10;:VOLT:NPLC 1")
    reading = float(meter.query("READ?"))
    check("multimeter: a reading is a finite number within its range", abs(reading) <= 12, reading)
    held = float(meter.query("FETC?"))
    check("multimeter: FETCh? repeats it", held == reading, held)
    check("multimeter: no error is left", drained(meter) == [])


def main():
    names = resources()
    print(f"client: pyvisa {pyvisa.__version__}, pyvisa-py {getattr(pyvisa_py, '__version__', 'of unknown version')}")
    manager = pyvisa.ResourceManager("@py")
    check("there is an oscilloscope on a socket", "oscilloscope" in names, names)
    if "oscilloscope" in names:
        scope = opened(manager, names["oscilloscope"])
        common(scope, "oscilloscope")
        settings(scope)
        waveform(scope)
        upload(scope)
        second_client(manager, names["oscilloscope"], scope)
        scope.close()
    if "multimeter" in names:
        meter = opened(manager, names["multimeter"])
        common(meter, "multimeter")
        meter_reading(meter)
        meter.close()
    print(f"{len(failures)} wrong" if failures else "all held")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
