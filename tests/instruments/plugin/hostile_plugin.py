#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""A plugin that misbehaves as the file `mood` beside it says, a word for each start if it has several lines. Good
otherwise: one measure of a waveform, one verb."""
import json
import os
import pathlib
import signal
import sys
import time

PART = {"kind": "verb", "name": "poke", "about": "does as it is told", "gives": "V", "example": "- poke: it\n  within: 5 s\n"}
moods = pathlib.Path("mood").read_text().split("\n") if pathlib.Path("mood").exists() else ["good"]
mood = moods[0]
if len(moods) > 1:
    pathlib.Path("mood").write_text("\n".join(moods[1:]))


def say(what):
    sys.stdout.write(what if isinstance(what, str) else json.dumps(what) + "\n")
    sys.stdout.flush()


def misbehave(question):
    """True when it answered, or will never."""
    reading = {"value": 1.5, "unit": "V", "standard_uncertainty": 0.1}
    if mood == "crash":
        print("about to fall", file=sys.stderr, flush=True)
        os.kill(os.getpid(), signal.SIGSEGV)
    elif mood == "leave":
        sys.exit(3)
    elif mood == "hang":
        time.sleep(1000)
    elif mood == "close":
        os.close(1)
        time.sleep(1000)
    elif mood == "garbage":
        say("\x00\xff no json\n")
    elif mood == "flood":
        block = "x" * 65536
        while True:
            say(block)
    elif mood == "many lines":
        # In one piece (below PIPE_BUF, POSIX.1-2017, write), so that the second is there as soon as the first.
        say((json.dumps({"id": question["id"], "reading": reading}) + "\n") * 20)
    elif mood == "chatter":
        while True:
            sys.stderr.write("y" * 65536)
    elif mood == "other id":
        say({"id": question["id"] + 1, "reading": reading})
    elif mood == "wrong unit":
        say({"id": question["id"], "reading": dict(reading, unit="A")})
    elif mood == "no number":
        say('{"id":%d,"reading":{"value":1e999,"unit":"V","standard_uncertainty":0.1}}\n' % question["id"])
    elif mood == "minus":
        say({"id": question["id"], "reading": dict(reading, standard_uncertainty=-1)})
    elif mood == "extra key":
        say({"id": question["id"], "reading": reading, "size": 10 ** 12})
    elif mood == "deep":
        say("[" * 100000 + "\n")
    elif mood == "memory":
        try:
            hog = bytearray(1 << 32)
            say({"id": question["id"], "reading": reading, "notes": [str(len(hog))]})
        except MemoryError:
            say({"id": question["id"], "error": {"message": "no memory"}})
    elif mood == "refuse":
        say({"id": question["id"], "error": {"message": "cannot\x1b[31m today", "advice": "come back"}})
    elif mood == "unasked":
        say({"id": question["id"], "reading": reading})
        time.sleep(0.05)
        say("and another thing\n")
    else:
        say({"id": question["id"], "reading": reading, "notes": ["poked"]})


if mood == "slow start":
    time.sleep(1)
if mood == "mute":
    time.sleep(1000)
for line in sys.stdin:
    question = json.loads(line)
    if question["ask"] == "hello":
        say({"id": question["id"], "protocol": 2 if mood == "newer" else 1, "name": "hostile", "parts": [PART]})
    else:
        misbehave(question)
if mood == "stays":
    time.sleep(1000)
