# SPDX-License-Identifier: Apache-2.0
"""Whether stated intervals hold their truths: coverage.py RESULT.json, the output of `eyelevel rehearse --json` with many units.

Prints one line for each named reading; exit 1 when the share inside lies beyond 93 to 97 % or the mean error beyond a tenth of
the standard uncertainty; with few units, beyond three standard errors of a sample of that size if that is more. Also when more
than one unit in a hundred did not finish: what is measured only where it is easy says nothing of the rest.
"""
import collections
import json
import math
import sys

result = json.load(open(sys.argv[1]))
errors = collections.defaultdict(list)
for unit in result["units"]:
    for reading in unit["readings"] if unit["ended"] == "finished" else []:
        truth = unit["truth"]["readings"].get(reading["name"])
        if truth is not None:
            error = reading["value"] - truth
            errors[reading["name"]].append((error / reading["standard_uncertainty"], abs(error) <= reading["expanded_uncertainty"]))
stopped = sum(unit["ended"] != "finished" for unit in result["units"])
bad = 0 if errors and stopped <= len(result["units"]) / 100 else 1
if stopped:
    print(f"{result['sequence']}: {stopped} of {len(result['units'])} units did not finish{'  WRONG' if bad else ''}")
for name, pairs in errors.items():
    n = len(pairs)
    inside = sum(hit for _, hit in pairs) / n
    mean = sum(e for e, _ in pairs) / n
    slack = 3 * math.sqrt(0.95 * 0.05 / n)
    good = 0.95 - max(0.02, slack) <= inside <= 0.95 + max(0.02, slack) and abs(mean) <= max(0.1, 3 / math.sqrt(n))
    bad += not good
    print(f"{result['sequence']}: {name}: {n} units, {100 * inside:.1f} % inside, mean error {mean:+.3f} u{'' if good else '  WRONG'}")
sys.exit(1 if bad else 0)
