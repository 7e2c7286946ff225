# SPDX-License-Identifier: Apache-2.0
"""`eyelevel analyse` on files several times larger than the memory it may take: what it says, its peak, its progress."""
import os
import pathlib
import pty
import re
import struct
import subprocess
import sys

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

MEMORY_KB_MOST = 64_000  # whatever the file; this script must stay below it, too, as the kernel counts it in
CODES = numpy.load(TOP / "tests/data/waveforms/pressed-audio.npy")
SCALED = ["--scale=0.009411764705882352", "--offset=1.104705882352941", "--dark=0.45"]
RATE = 20_000_000


def npy_head(count):
    text = f"{{'descr': '|i1', 'fortran_order': False, 'shape': ({count},), }}".ljust(117) + "\n"
    return b"\x93NUMPY\x01\x00" + struct.pack("<H", len(text)) + text.encode()


def wav_head(size):
    form = struct.pack("<IHHIIHH", 16, 1, 2, RATE, 4 * RATE, 4, 16)
    return b"RIFF" + struct.pack("<I", 36 + size) + b"WAVEfmt " + form + b"data" + struct.pack("<I", size)


def measured(path, *arguments):
    """The JSON of an analysis, its exit status and its peak of memory."""
    out = path.with_suffix(".out")
    with out.open("wb") as into:
        process = subprocess.Popen([PROGRAM, "analyse", path, *arguments, "--json"], stdout=into)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
    done = subprocess.CompletedProcess(process.args, process.returncode, out.read_text(), "")
    return as_json(done), process.returncode, usage.ru_maxrss


def big(path, head, piece, size_least):
    """A file of `head` and the same piece again and again; gives how often."""
    times = size_least // len(piece) + 1
    with path.open("wb") as into:
        into.write(head(times) if callable(head) else head)
        for _ in range(times):
            into.write(piece)
    return times


def expect_small(what, peak_kb):
    expect(f"{what}: the peak of memory stays below {MEMORY_KB_MOST} kB ({peak_kb} kB)", peak_kb < MEMORY_KB_MOST)


def check(what, path, times, *arguments):
    result, status, peak_kb = measured(path, *arguments)
    expect(f"{what}: {path.stat().st_size / 1e6:.0f} MB are read to the last sample",
           status == 0 and result["samples"] == times * len(CODES), (status, result))
    expect(f"{what}: and measured, level {result['level']['peak_to_peak_v']} V",
           abs(result["level"]["peak_to_peak_v"] / 1.2999 - 1) < 0.01 and len(result["subcode"]) >= times, result["level"])
    expect_small(what, peak_kb)
    path.unlink()


def check_servo(path, *arguments):
    result, status, peak_kb = measured(path, "--signal=focus-error", *arguments)
    expect("an eye is no S-curve, and why is told", status == 1 and result["focus_error"] is None and result["why_not"], result)
    expect_small("as a servo signal", peak_kb)


with folder() as at:
    at = pathlib.Path(at)
    path = at / "big.npy"
    times = big(path, lambda n: npy_head(n * len(CODES)), CODES.tobytes(), 300_000_000)
    check_servo(path, f"--rate={RATE}", *SCALED)
    check("an .npy in place, its sound written beside", path, times, f"--rate={RATE}", f"--audio={at / 'big.sound.wav'}", *SCALED)
    expect("the sound of every repetition is there",
           (at / "big.sound.wav").stat().st_size > 44 + times * 100 * 24, (at / "big.sound.wav").stat())
    stereo = numpy.stack([numpy.zeros(len(CODES), "<i2"), CODES], 1).astype("<i2").tobytes()
    path = at / "big.wav"
    times = big(path, lambda n: wav_head(n * len(stereo)), stereo, 300_000_000)
    check("the second channel of a WAV", path, times, "--channel=2", *SCALED)
    del stereo
    lines = b"".join("".join(f"{c}\n" for c in some).encode() for some in numpy.array_split(CODES, 100))
    path = at / "big.csv"
    times = big(path, f"Sample Interval,{1 / RATE:.9g},s\nCH1\n".encode(), lines, 150_000_000)
    check("a CSV", path, times, *SCALED)

    # Far from the beginning a broken line is named, and nothing of what was read before it is printed.
    path = at / "broken.csv"
    times = big(path, f"Sample Interval,{1 / RATE:.9g},s\nCH1\n".encode(), lines, 20_000_000)
    with path.open("ab") as into:
        into.write(b"1x\n")
    refused = eyelevel("analyse", path, *SCALED)
    expect("a broken last line is refused by its number, and nothing is printed before",
           refused.returncode == 2 and f"broken.csv:{times * len(CODES) + 3}:1" in refused.stderr and refused.stdout == "",
           refused.stdout + refused.stderr)

    # Progress is for a terminal, on standard error, and changes nothing on the page.
    path = at / "some.npy"
    big(path, lambda n: npy_head(n * len(CODES)), CODES.tobytes(), 40_000_000)
    quiet = eyelevel("analyse", path, f"--rate={RATE}", *SCALED)
    expect("without a terminal nothing is said of progress", quiet.returncode == 0 and quiet.stderr == "", quiet.stderr)
    ours, theirs = pty.openpty()
    shown = subprocess.run([PROGRAM, "analyse", path, f"--rate={RATE}", *SCALED], stdout=subprocess.PIPE, stderr=theirs,
                           timeout=100, cwd=TOP, text=True)
    os.close(theirs)
    told = b""
    try:
        while more := os.read(ours, 65536):
            told += more
    except OSError:  # what a terminal gives once the other side is closed
        pass
    shares = [int(share) for share in re.findall(rb"\r(\d+) % of 40 MB", told)]
    expect("on a terminal the share of the file that was read is shown, up to all of it",
           len(shares) > 10 and shares == sorted(set(shares)) and told.endswith(b"\r100 % of 40 MB\r\n"), told)
    expect("and the page is the same", shown.returncode == 0 and shown.stdout == quiet.stdout, shown.stdout)
finish()
