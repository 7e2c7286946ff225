# SPDX-License-Identifier: Apache-2.0
"""What `eyelevel analyse --signal` says of captured servo signals, made here in closed form."""
import math
import pathlib
import sys

import numpy

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

RATE = 1e6


def capture(at, name, volts):
    path = at / name
    numpy.save(path, numpy.asarray(volts, dtype=numpy.float32))
    return [path, f"--rate={RATE}"]


with folder() as at:
    at = pathlib.Path(at)
    t = numpy.arange(100000) / RATE
    x = (t % 0.02 - 0.01) / 0.0005
    focus = capture(at, "focus.npy", 2.5 + 0.8 * x * numpy.exp(0.5 - 0.5 * x * x))
    s = as_json(eyelevel("analyse", *focus, "--signal=focus-error", "--json"))["focus_error"]
    expect("five sweeps with height and symmetry", s["sweeps"] == 5 and abs(s["height_v"] - 1.6) < 0.02 and abs(s["symmetry"]) < 0.01, s)
    told = as_json(eyelevel("analyse", *focus, "--signal=focus-error", "--json"))
    expect("why_not is null where something was found", "why_not" in told and told["why_not"] is None, told)
    page = eyelevel("analyse", *focus, "--signal=focus-error")
    expect("the page tells the S-curve", page.returncode == 0 and "S-curve, peak to peak" in page.stdout, page.stdout)

    tracking = capture(at, "tracking.npy", 2.6 + 0.5 * numpy.sin(2 * math.pi * 800 * t))
    swing = as_json(eyelevel("analyse", *tracking, "--signal=tracking-error", "--reference=2.5", "--json"))["tracking_error"]
    expect("tracks, swing and balance", abs(swing["tracks_per_s"] - 800) < 8 and abs(swing["balance"] - 0.1) < 0.005, swing)
    page = eyelevel("analyse", *tracking, "--signal=tracking-error")
    expect("without a reference the balance is asked for", "balance wants --reference" in page.stdout, page.stdout)

    quiet = capture(at, "quiet.npy", numpy.full(1000, 2.5))
    for signal in ("focus-error", "tracking-error"):
        done = eyelevel("analyse", *quiet, f"--signal={signal}")
        expect(f"a quiet {signal} holds nothing, status 1, and why is told",
               done.returncode == 1 and done.stdout.startswith("No ") and "stands still at 2.5 V" in done.stdout, done.stdout)
        told = as_json(eyelevel("analyse", *quiet, f"--signal={signal}", "--json"))
        expect(f"{signal}: the JSON tells why, too",
               told[signal.replace("-", "_")] is None and "stands still at 2.5 V" in told["why_not"], told)
    for option in ("--audio", "--pictures", "--test-discs"):
        done = eyelevel("analyse", *focus, "--signal=focus-error", f"{option}={at / 'other'}")
        expect(f"{option} is refused for a servo signal, and nothing is written",
               done.returncode == 2 and option in done.stderr and not (at / "other").exists(), done.stderr)
    done = eyelevel("analyse", *quiet, "--signal=motor")
    expect("a signal that is not known is refused", done.returncode == 2 and "focus-error" in done.stderr, done.stderr)
finish()
