#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The spectrum of the outline against numpy's transform behind the same window. Called as SCRIPT PROGRAM."""
import subprocess
import sys

try:
    import numpy as np
except ImportError:
    print("numpy is not installed")
    sys.exit(77)

wrong = 0


def expect(what, good, seen=""):
    global wrong
    wrong += not good
    print(("ok     " if good else "WRONG  ") + what + (f": {seen}" if seen != "" else ""))


def spectrum_of(values):
    text = "\n".join(repr(float(v)) for v in values)
    lines = subprocess.run([sys.argv[1]], input=text, capture_output=True, text=True, check=True, timeout=60).stdout.splitlines()
    points, gain, bandwidth, scalloping = lines[0].split()
    return int(points), float(gain), float(bandwidth), float(scalloping), np.array([float(x) for x in lines[1:]])


seed = 20
random = np.random.default_rng(seed)
print(f"seed {seed}")
for count in (64, 67, 1000, 1023, 11029, 65521, 65536):
    t = np.arange(count) / count
    values = (1.3 + 0.05 * np.cos(2 * np.pi * 7.3 * t + 1) + 0.003 * np.cos(2 * np.pi * count / 5 * t)
              + 0.01 * random.standard_normal(count))
    points, gain, bandwidth, scalloping, amplitudes = spectrum_of(values)
    window = np.hanning(points + 1)[:-1]  # numpy's own is symmetric: one more, without the last, is the periodic one
    used = values[:points]
    right = 2 * np.abs(np.fft.rfft(window * (used - used.mean())))[:points // 2] / window.sum()
    # Rounding: 2^-53 times the largest of the sum, grown by the root of the number of stages; 1e-13 leaves room.
    error = np.max(np.abs(amplitudes - right)) / right.max()
    expect(f"{count} values, {points} of them looked at, agree within 1e-13 of the largest line", error < 1e-13, f"{error:.1e}")
    expect("the coherent gain is the window's", abs(gain - window.sum() / points) < 1e-12)
    expect("the equivalent noise bandwidth is the window's",
           abs(bandwidth - points * (window ** 2).sum() / window.sum() ** 2) < 1e-12)
    between = abs((window * np.exp(-1j * np.pi * np.arange(points) / points)).sum()) / window.sum()
    expect("the scalloping loss is the window's but for 1 / n^2", abs(scalloping - between) < 2 / points ** 2)
sys.exit(wrong > 0)
