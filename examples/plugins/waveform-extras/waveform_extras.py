#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A process plugin: two measures and a verb. Reads questions from standard input, one JSON object a line, and answers
each with one line on standard output. What goes to standard error is shown when something breaks. It ends when its
standard input does."""
import array
import base64
import json
import math
import statistics
import sys

PARTS = [
    {
        "kind": "measure",
        "name": "crest factor",
        "about": "largest distance from the mean over the root of the mean square, of an averaged waveform",
        "takes": "waveform",
        "gives": "1",
        "example": "- measure: crest factor of edge\n  name it: crest\n",
    },
    {
        "kind": "measure",
        "name": "level spread",
        "about": "standard deviation of the levels of kept captures",
        "takes": "captures",
        "gives": "V",
        "parameters": [
            {
                "name": "leave out above",
                "type": "quantity",
                "unit": "V",
                "help": "captures with a higher level are not counted",
                "example": "1.8 V",
            }
        ],
        "example": "- measure: level spread of pressed\n  leave out above: 1.8 V\n  name it: spread\n",
    },
    {
        "kind": "verb",
        "name": "light share",
        "about": "a level as a share of the level that full light gives",
        "gives": "1",
        "parameters": [
            {"name": "light share", "type": "reading", "help": "the level", "example": "level_pressed"},
            {
                "name": "full light",
                "type": "quantity",
                "unit": "V",
                "required": True,
                "help": "the level at full light",
                "example": "1.6 V",
            },
        ],
        "example": "- light share: level_pressed\n  full light: 1.6 V\n  within: 5 s\n  name it: share\n",
    },
]


class Cannot(Exception):
    """What the plugin cannot do; its words go to the technician."""


def crest_factor(values, results):
    waveform = results["of"]
    samples = array.array("f", base64.b64decode(waveform["volts_f32_base64"]))
    if sys.byteorder == "big":
        samples.byteswap()
    if len(samples) < 2:
        raise Cannot("a waveform of two samples or more is needed")
    mean = math.fsum(samples) / len(samples)
    rms = math.sqrt(math.fsum((s - mean) ** 2 for s in samples) / len(samples))
    if not math.isfinite(rms) or rms == 0:
        raise Cannot("the waveform is flat or holds what is no number")
    peak = max(abs(s - mean) for s in samples)
    # What is left of the noise in one averaged sample.
    noise = waveform["noise_v"] / math.sqrt(waveform["count"])
    return {"value": peak / rms, "unit": "1", "standard_uncertainty": noise / rms, "count": waveform["count"]}


def level_spread(values, results):
    most = values.get("leave out above", math.inf)
    levels = [c["level_v"] for c in results["of"] if c["level_v"] is not None and c["level_v"] <= most]
    if len(levels) < 2:
        raise Cannot("fewer than two captures have a level")
    spread = statistics.stdev(levels)
    # Standard deviation of a standard deviation of normal values.
    return {"value": spread, "unit": "V", "standard_uncertainty": spread / math.sqrt(2 * (len(levels) - 1)),
            "degrees_of_freedom": len(levels) - 1, "count": len(levels)}


def light_share(values, results):
    level, full = results["light share"], values["full light"]
    if level["unit"] != "V":
        raise Cannot("light share is made of a level in volts, not in " + level["unit"])
    if full <= 0:
        raise Cannot("full light is above 0 V")
    return {"value": level["value"] / full, "unit": "1",
            "standard_uncertainty": level["standard_uncertainty"] / full, "count": level["count"]}


DO = {"crest factor": crest_factor, "level spread": level_spread, "light share": light_share}


def answer(question):
    if question.get("ask") == "hello":
        return {"protocol": 1, "name": "waveform-extras", "parts": PARTS}
    do = DO.get(question.get("name"))
    if do is None:
        raise Cannot("there is no such part")
    return {"reading": do(question["values"], question["results"])}


def main():
    for line in sys.stdin:
        question = json.loads(line)
        try:
            reply = answer(question)
        except Cannot as why:
            reply = {"error": {"message": str(why)}}
        reply["id"] = question["id"]
        print(json.dumps(reply, allow_nan=False), flush=True)


main()
