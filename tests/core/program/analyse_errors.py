# SPDX-License-Identifier: Apache-2.0
"""What `eyelevel analyse` says of errors, and the sound that it writes with --audio."""
import math
import pathlib
import resource
import signal
import sys
import wave

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

DATA = TOP / "tests/data/waveforms"


def at_most(count, mean):
    """Probability of `count` events or fewer."""
    return sum(math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(count + 1))


def files_of_a_few_bytes():
    """Before the program starts: a write beyond them fails as on a full disk."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (8000, 8000))


damaged = as_json(eyelevel("analyse", DATA / "damaged-symbols.npy", "--json"))
c1 = damaged["c1"]
wrong = c1["e11"] + c1["e21"] + c1["e31"]
low, high = (limit * c1["words"] * 588 / damaged["channel_rate_hz"] for limit in damaged["bler_interval_per_s"])
expect("so many errors or more are as rare at the lower limit as 95 % says", abs(1 - at_most(wrong - 1, low) - 0.025) < 1e-6, low)
expect("so many errors or fewer are as rare at the upper limit", abs(at_most(wrong, high) - 0.025) < 1e-6, high)
expect("the strategy is told", damaged["circ_strategy"]["c1_corrects"] == 2 and "erasures" in damaged["circ_strategy"]["about"],
       damaged["circ_strategy"])
other = as_json(eyelevel("analyse", DATA / "damaged-symbols.npy", "--c1-corrects=1", "--json"))
expect("with the other strategy two wrong symbols are not corrected",
       other["c1"]["e21"] == 0 and other["c1"]["e31"] == c1["e31"] + c1["e21"], other["c1"])
refused = eyelevel("analyse", DATA / "damaged-symbols.npy", "--c1-corrects=3")
expect("C1 corrects one or two, never three", refused.returncode == 2 and "1" in refused.stderr, refused.stderr)

page = eyelevel("analyse", DATA / "short-capture.npy")
expect("a short record says that it is too short for the limit", "too short to tell" in page.stdout, page.stdout)
page = eyelevel("analyse", DATA / "damaged-symbols.npy")
expect("two-error words beside uncorrectable ones are called suspect, or not where there are none",
       ("of those with two stand beside" in page.stdout) == (c1["e21_beside_e31"] > 0), page.stdout)
with folder() as at:
    noisy = pathlib.Path(at) / "noisy.npy"
    codes = numpy.load(DATA / "pressed-audio.npy").astype(float) + numpy.random.default_rng(3).normal(0, 22, 653061)
    numpy.save(noisy, numpy.clip(numpy.rint(codes), -128, 127).astype(numpy.int8))
    of_noise = [noisy, "--rate=20e6", "--scale=0.0094118", "--offset=1.1047"]
    suspect = as_json(eyelevel("analyse", *of_noise, "--json"))["c1"]["e21_beside_e31"]
    page = eyelevel("analyse", *of_noise)
    expect("of a noisy record the page says how many they are",
           suspect > 0 and f"{suspect} of those with two stand beside" in page.stdout, (suspect, page.stdout))
page = eyelevel("analyse", DATA / "pressed-audio.npy")
expect("a record without errors says how far that reaches", "in so short a record" in page.stdout, page.stdout)

with folder() as at:
    at = pathlib.Path(at)
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--audio={at / 'out.wav'}", "--json")
    doc = as_json(done)
    pairs = (doc["frames"] - 111) * 6
    with wave.open(str(at / "out.wav")) as sound:
        got = (sound.getnchannels(), sound.getsampwidth(), sound.getframerate(), sound.getnframes())
    expect("the sound is a WAV file of 16 bit stereo, six pairs a frame", got == (2, 2, 44100, pairs), (got, pairs))
    expect("all was corrected and the counts say so",
           doc["audio"] == {"sample_pairs": pairs, "interpolated": 0, "held": 0}, doc["audio"])
    expect("what was written is told", f"{pairs} sample pairs" in done.stderr, done.stderr)
    bare = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--audio={at / 'out.raw'}")
    with wave.open(str(at / "out.wav")) as sound:
        same = sound.readframes(pairs) == (at / "out.raw").read_bytes()
    expect("a name that ends in .raw gets the bare samples", same and "low byte first" in bare.stderr, bare.stderr)
    expect("without --audio there is no sound", damaged["audio"] is None, damaged["audio"])

    for name, why in (("rewritable-data", "data is played"), ("short-capture", "may be data"), ("tracking-open", "no eye")):
        out = at / f"{name}.wav"
        done = eyelevel("analyse", DATA / f"{name}.npy", f"--audio={out}")
        expect(f"{name}: no sound is written, and why", done.returncode == 1 and why in done.stderr and not out.exists(),
               (done.returncode, done.stderr))

        out.write_bytes(b"an older one")
        eyelevel("analyse", DATA / f"{name}.npy", f"--audio={out}")
        expect(f"{name}: what stood there stays, and nothing beside it",
               out.read_bytes() == b"an older one" and not list(at.glob("*.unfinished")), list(at.iterdir()))

    out = at / "full.wav"
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--audio={out}", preexec_fn=files_of_a_few_bytes)
    expect("a disk that becomes full is told, and nothing half done stays",
           done.returncode == 2 and "full.wav cannot be written" in done.stderr and not list(at.glob("full*")),
           (done.returncode, done.stderr, list(at.iterdir())))
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", "--audio=/dev/full")
    expect("what is no file is refused", done.returncode == 2 and "no file" in done.stderr, done.stderr)

    own = at / "own.npy"
    own.write_bytes((DATA / "damaged-symbols.npy").read_bytes())
    before = own.read_bytes()
    own.with_suffix(".json").write_bytes((DATA / "damaged-symbols.json").read_bytes())
    done = eyelevel("analyse", own, f"--audio={own}")
    expect("the waveform itself is never overwritten",
           done.returncode == 2 and own.read_bytes() == before and "waveform" in done.stderr, done.stderr)
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--audio={at / 'no' / 'out.wav'}")
    expect("a place that cannot be written to is named", done.returncode == 2 and "out.wav" in done.stderr, done.stderr)
finish()
