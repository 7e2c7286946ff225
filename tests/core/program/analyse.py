# SPDX-License-Identifier: Apache-2.0
"""`eyelevel analyse` on waveforms that nobody here made, held against their truth by the judge that came with them."""
import importlib.util
import json
import pathlib
import struct
import sys

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

DATA = TOP / "tests/data/waveforms"
spec = importlib.util.spec_from_file_location("judge", DATA / "judge.py")
judge = importlib.util.module_from_spec(spec)
spec.loader.exec_module(judge)


def document(path):
    doc = json.loads(path.read_text())
    doc.setdefault("kind", "eye" if doc.get("eye") else "none")
    doc["truth"] = dict({k: doc[k] for k in ("scale_v", "offset_v", "dark_v") if k in doc}, **doc.get("truth", {}))
    return doc


cases = sorted(DATA.glob("*.npy"))
expect("nine stored waveforms are there", len(cases) == 9, cases)
for case in cases:
    doc = document(case.with_suffix(".json"))
    arguments = [f"--rate={doc['rate_hz']}", f"--scale={doc['scale_v']}", f"--offset={doc['offset_v']}"]
    if doc["dark_v"] is not None:
        arguments.append(f"--dark={doc['dark_v']}")
    done = eyelevel("analyse", case, *arguments, "--json")
    bad = judge.judge(doc, as_json(done), done.returncode)
    expect(f"{case.stem}: every number within its tolerance", not bad, "\n       ".join(bad))
    expect(f"{case.stem}: exit status says whether there was an eye", done.returncode == (0 if doc["eye"] else 1), done.returncode)

page = eyelevel("analyse", DATA / "pressed-audio.npy", "--dark=0")
expect("the page for people names level and place", "1.2999 V" in page.stdout and "track 2, index 1" in page.stdout, page.stdout)

with folder() as at:
    at = pathlib.Path(at)
    (at / "codes.npy").write_bytes((DATA / "pressed-audio.npy").read_bytes())
    refused = eyelevel("analyse", at / "codes.npy", "--rate=20e6")
    expect("integer codes without a scale are refused with 2 and say what to add",
           refused.returncode == 2 and "--scale" in refused.stderr, refused.stderr)
    (at / "short.csv").write_text("time,volts\n0,1\n1e-6,oops\n")
    refused = eyelevel("analyse", at / "short.csv")
    expect("text that is no number is refused with its line", refused.returncode == 2 and "3" in refused.stderr, refused.stderr)
    refused = eyelevel("analyse", at / "nowhere.npy")
    expect("a file that is not there is refused by name", refused.returncode == 2 and "nowhere.npy" in refused.stderr, refused.stderr)

# One record in every way of writing it gives what the .npy gives.
TRUTH = document(DATA / "pressed-audio.json")
CODES = numpy.load(DATA / "pressed-audio.npy")
RATE, SCALE, OFFSET = TRUTH["rate_hz"], TRUTH["scale_v"], TRUTH["offset_v"]
MILLIVOLTS = (CODES * SCALE + OFFSET) * 1e3


def wav(samples, rate, channels):
    data = samples.tobytes()
    head = struct.pack("<HHIIHH", 1, channels, int(rate), int(rate) * channels * 2, channels * 2, 16)
    return b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack("<I", 16) + head + b"data" + struct.pack("<I", len(data)) + data


def comma(number, digits):
    return f"{number:.{digits}f}".replace(".", ",")


scaled = [f"--scale={SCALE}", f"--offset={OFFSET}"]
ways = {}
with folder() as at:
    at = pathlib.Path(at)
    (at / "stick.csv").write_bytes(("\ufeffGerät;Oszilloskop\r\nLänge;%d\r\n\r\nZeit;Kanal 1;Kanal 2\r\nµs;mV;V\r\n" % len(CODES)
        + "".join(f"{comma(i / RATE * 1e6, 4)};{comma(v, 3)};0,0\r\n" for i, v in enumerate(MILLIVOLTS))).encode())
    ways["CSV with decimal commas, microseconds and millivolts"] = ("stick.csv", [],
        ["semicolon-separated", "decimal comma", "4 header lines", "time in us", "channel 1 of 2 in mV", "20 MSa/s"])
    (at / "interval.csv").write_text(f"Sample Interval,{1 / RATE:.9g},s\nCH1 (mV)\n" + "".join(f"{v:.3f}\n" for v in MILLIVOLTS))
    ways["CSV of one column with the interval in the heading"] = ("interval.csv", [],
        ["one column", "decimal point", "2 header lines", "sample interval from the heading", "channel 1 of 1 in mV", "20 MSa/s"])
    (at / "two.wav").write_bytes(wav(numpy.stack([CODES * 0, CODES], 1).astype("<i2"), RATE, 2))
    ways["second channel of a WAV"] = ("two.wav", ["--channel=2", *scaled], ["WAV of int16", "channel 2 of 2", "20 MSa/s"])
    CODES.astype("i1").tofile(at / "codes.bin")
    ways["bare int8"] = ("codes.bin", ["--format=int8", f"--rate={RATE}", *scaled], ["bare int8 samples", "20 MSa/s"])
    (CODES.astype("i2") * 256).astype(">i2").tofile(at / "codes16.bin")
    ways["bare int16, big end first"] = ("codes16.bin", ["--format=int16be", f"--rate={RATE}", f"--scale={SCALE / 256}", f"--offset={OFFSET}"],
        ["bare int16be samples", "20 MSa/s"])
    for way, (name, arguments, assumed) in ways.items():
        done = eyelevel("analyse", at / name, *arguments, f"--dark={TRUTH['dark_v']}", "--json")
        got = as_json(done)
        bad = judge.judge(TRUTH, got, done.returncode)
        expect(f"{way}: every number within its tolerance", not bad, "\n       ".join(bad))
        expect(f"{way}: what was assumed is said", got["assumed"] == assumed, got["assumed"])
    page = eyelevel("analyse", at / "stick.csv")
    expect("the page says how the file was read",
           "read as: semicolon-separated, decimal comma, 4 header lines, time in us, channel 1 of 2 in mV, 20 MSa/s" in page.stdout, page.stdout)
    refused = eyelevel("analyse", at / "codes.bin", "--format=int12", "--rate=20e6", "--scale=1")
    expect("a format that is none is refused with those there are", refused.returncode == 2 and "int16be" in refused.stderr, refused.stderr)
    refused = eyelevel("analyse", at / "codes.bin", "--format=int8", "--scale=1")
    expect("bare samples without a rate are refused with what to add", refused.returncode == 2 and "--rate" in refused.stderr, refused.stderr)
    for channel in ("0", "-1", "3"):
        refused = eyelevel("analyse", at / "two.wav", f"--channel={channel}", *scaled)
        expect(f"channel {channel} of two is refused", refused.returncode == 2 and channel in refused.stderr and "channel" in refused.stderr, refused.stderr)
    # As `eyelevel export` leaves them: volts in the CSV, whatever the scale of the codes in the JSON beside it.
    (at / "both.csv").write_text((at / "interval.csv").read_text())
    (at / "both.json").write_text(json.dumps({"rate_hz": RATE, "scale_v": 0.5, "offset_v": 7}))
    got = as_json(eyelevel("analyse", at / "both.csv", "--json"))
    expect("a CSV beside an .npy's JSON is not scaled by it", abs(got["level"]["mean_v"] - MILLIVOLTS.mean() / 1e3) < 1e-4, got["level"])

# What was taken the wrong way says which way would do.
with folder() as at:
    at = pathlib.Path(at)
    noise = numpy.random.default_rng(7).normal(0, 6000, 4 * 44100)
    music = numpy.convolve(noise, numpy.ones(20) / 5, "same").clip(-32768, 32767).astype("<i2")
    (at / "music.wav").write_bytes(wav(music, 44100, 2))
    done = eyelevel("analyse", at / "music.wav", "--json")
    got = as_json(done)
    expect("stereo music has no eye", done.returncode == 1 and got["speed"] is None and got["level"]["i11_v"] is None, got)
    expect("stereo music is told that its rate is too low, and which would do",
           any("44.1 kSa/s is too low" in w and "7.8 MSa/s" in w for w in got["warnings"]), got["warnings"])
    for wrong in (RATE / 2, RATE * 0.6, RATE * 1.5):
        got = as_json(eyelevel("analyse", DATA / "pressed-audio.npy", f"--rate={wrong}", *scaled, "--json"))
        expect(f"the wrong rate of {wrong / 1e6:g} MSa/s is no speed of a disc, and the right one is named",
               any("none of the usual speeds" in w and "20 MSa/s" in w for w in got["warnings"]), got["warnings"])
    numpy.save(at / "short.npy", CODES[:2000])
    got = as_json(eyelevel("analyse", at / "short.npy", f"--rate={RATE}", *scaled, "--json"))
    expect("too short a record says how long would do", any("too short" in w and "0.408 ms" in w for w in got["warnings"]), got["warnings"])
finish()
