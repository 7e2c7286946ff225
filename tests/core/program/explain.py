# SPDX-License-Identifier: Apache-2.0
"""`explain`: the ready sequences in plain sentences, on the terminal and as JSON."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish  # noqa: E402

# Likely: 5 s to read the prompt and twice 12 s to do it, 8 s to the track, 64 captures of 0.5 ms every 30 ms, the rest at once. At
# most: 5 s, 10 min, 45 s, 60 s and 10 s as the sequence has them, and the measuring.
page = eyelevel("explain", "sequences/ready/pickup-level.yaml")
for sentence in ("It takes about 40 s, at most 12 min 1 s.", "  1. Ask the operator: Insert the pressed test disc and start track 2; at most 10 min.",
                 "  4. Measure the eye level of pressed; call it level_pressed; it must be 1.20 V ± 10 % (level).",
                 "It needs scope (oscilloscope).", "   - Insert the pressed test disc and start track 2"):
    expect(f"the page says: {sentence.strip()}", sentence in page.stdout, page.stdout)
for ready in sorted((TOP / "sequences/ready").glob("*.yaml")):
    told = as_json(eyelevel("explain", ready, "--json"))
    expect(f"{ready.name} is explained step by step, with its time", told["opening"] and told["steps"]
           and 0 < told["duration"]["likely_s"] < told["duration"]["longest_s"]
           and told["laser_lit"]["longest_s"] <= told["duration"]["longest_s"], told)
soak = as_json(eyelevel("explain", "sequences/ready/level-soak.yaml", "--json"))
expect("what is asked at the start is told with what is usual and allowed", soak["asked_at_start"] == [
    {"name": "drift_allowed", "about": "how far the level may move from where it was at first", "usual": "100 mV",
     "allowed": "20 mV to 500 mV"}], soak)
expect("the cautions are told", len(soak["cautions"]) == 3, soak)
wrong = eyelevel("explain", "examples/bench.yaml")
expect("what is no sequence is refused with 2", wrong.returncode == 2 and "examples/bench.yaml" in wrong.stderr, wrong.stderr)
finish()
