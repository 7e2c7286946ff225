#!/usr/bin/env python3
# SPDX-License-Identifier: Apache-2.0
"""The house rules as a test. Reads every source of the tree and prints one line for each breach; exit 1 if there is any.

Checked: who may include whom (the table below, as in DEVELOPERS.md); Asio only where waiting belongs; printing, ending the
process and reading clocks only in their rooms; a test file for each source; each test and source named in a CMakeLists.txt;
the licence line; columns; words that must not stand in the tree.
"""
import pathlib
import re
import sys

TOP = pathlib.Path(__file__).resolve().parents[2]

# Each also what its targets may.
MAY = {
    "core/base": [],
    "core/quantity": ["core/base"],
    "core/yaml": ["core/quantity"],
    "core/signal": ["core/quantity"],
    "core/metrology": ["core/quantity"],
    "core/register": ["core/yaml"],
    "core/disc": ["core/signal"],
    "core/guide": ["core/disc", "core/metrology"],
    "core/diagnosis": ["core/disc", "core/metrology"],
    "core/event": ["core/signal", "core/metrology"],
    "core/bench": ["core/signal", "core/yaml"],
    "core/sequence": ["core/register", "core/event", "core/bench", "core/guide", "core/diagnosis"],
    "core/record": ["core/event"],
    "core/report": ["core/register", "core/record", "core/disc", "core/metrology"],
    "core/service": ["core/sequence", "core/record", "core/report"],
    "instruments/scpi": ["core/quantity"],
    "instruments/transport": ["instruments/scpi", "core/register"],
    "instruments/find": ["instruments/transport"],
    "instruments/phrasebook": ["instruments/transport", "core/bench", "core/register"],
    "instruments/plugin": ["core/register", "instruments/transport", "core/bench"],
    "sim": ["core/disc", "core/bench", "core/yaml", "core/register", "instruments/scpi", "instruments/transport"],
    "sim/rehearsal": ["sim", "core/sequence", "core/record", "instruments/phrasebook"],
}
BOTTOM = ["core/base", "core/quantity"]  # open to all above

NO_ASIO = ["core/signal", "core/disc", "core/metrology", "core/quantity", "core/yaml", "core/guide", "core/diagnosis",
           "instruments/scpi", "instruments/find/dns"]

# Sources that need no test file of their own, and why.
UNTESTED = {
    "core/base/asio.cpp": "compiles Asio once",
    "cmake/pch.cpp": "carries the precompiled headers",
}

BANNED = [
    (r"\bstd::(cout|cerr|clog)\b|\bprintf\s*\(|\bputs\s*\(", "prints; only core/program and tests may"),
    (r"\b(std::)?(exit|_exit|abort|quick_exit|terminate)\s*\(", "ends the process; only core/program may"),
    (r"(steady|system|high_resolution)_clock::now", "reads a clock; only core/base/timeline.cpp may"),
    (r"\bsleep_for\b|\busleep\s*\(|\bnanosleep\b", "sleeps; wait on an event or move the Timeline"),
    (r"catch \(\.\.\.\) *\{ *\}", "swallows an error"),
]


def closure(room):
    seen, todo = set(), [room]
    while todo:
        here = todo.pop()
        if here in seen:
            continue
        seen.add(here)
        todo += MAY.get(here, [])
    return seen | set(BOTTOM)


def room_of(path):
    if path.startswith("sim/rehearsal/"):
        return "sim/rehearsal"
    if path.startswith("sim/"):
        return "sim"
    return "/".join(path.split("/")[:2])


def sources():
    for folder in ("core", "instruments", "sim", "tests", "examples", "cmake"):
        for path in sorted((TOP / folder).rglob("*")):
            if path.suffix in (".cpp", ".hpp", ".h", ".c"):
                yield path.relative_to(TOP).as_posix(), path.read_text()


def check_arrows(name, text, say):
    room = room_of(name)
    if name.startswith(("tests/", "core/program/", "examples/", "cmake/")):
        return
    if room not in MAY:
        say(name, 1, f"{room} is in no row of the table of arrows")
        return
    allowed = closure(room)
    for number, line in enumerate(text.splitlines(), 1):
        hit = re.match(r'\s*#\s*include\s+"([^"]+)"', line)
        if not hit:
            continue
        target = hit.group(1)
        there = room_of(target)
        if target.startswith(("core/", "instruments/", "sim/")):
            if there != room and there not in allowed:
                say(name, number, f"{room} may not include {there}")
            if "/detail/" in target and there != room:
                say(name, number, f"{target} is for {there} alone")
        elif not target.startswith("cmake/"):
            say(name, number, f'"{target}": write the path from the top of the tree')
    codec = name.startswith("instruments/transport/") and pathlib.Path(name).name.startswith("codec")
    if codec or any(name.startswith(r + "/") for r in NO_ASIO):
        for number, line in enumerate(text.splitlines(), 1):
            if re.match(r"\s*#\s*include\s+<boost/asio", line):
                say(name, number, "Asio does not belong here: numbers in, numbers out")


def check_calls(name, text, say):
    if name.startswith(("core/program/", "tests/", "examples/")):
        patterns = [b for b in BANNED if "sleeps" in b[1] or "swallows" in b[1]]
    else:
        patterns = BANNED
    for number, line in enumerate(text.splitlines(), 1):
        code = line.split("//")[0]
        for pattern, why in patterns:
            if "clock" in why and name == "core/base/timeline.cpp":
                continue
            if "ends the process" in why and name == "instruments/plugin/process/child.cpp":
                continue  # the forked child that could not become the plugin
            if re.search(pattern, code):
                say(name, number, why)


def check_form(name, text, say):
    if "SPDX-License-Identifier: Apache-2.0" not in text[:200]:
        say(name, 1, "no licence line (// SPDX-License-Identifier: Apache-2.0)")
    for number, line in enumerate(text.splitlines(), 1):
        if len(line) > 120:
            say(name, number, f"{len(line)} columns; 120 are allowed")
        if re.search(r"TODO|FIXME|XXX", line):
            say(name, number, "unfinished work is said in an issue, not in the code")
    if name.endswith(".hpp") and "#pragma once" not in text:
        say(name, 1, "no #pragma once")


def check_tests(names, say):
    lists = {}
    for path in TOP.rglob("CMakeLists.txt"):
        if "build" not in path.relative_to(TOP).parts:
            lists[path.parent.relative_to(TOP).as_posix()] = path.read_text()
    for name in names:
        if not name.endswith(".cpp") or name.startswith(("cmake/", "examples/")):
            continue
        folder = pathlib.PurePosixPath(name)
        listed = False
        for parent in folder.parents:
            text = lists.get(parent.as_posix())
            if text is not None:
                relative = folder.relative_to(parent).as_posix()
                listed = re.search(r"(^|[\s(/])" + re.escape(relative) + r"($|[\s)])", text, re.M) is not None
                if listed:
                    break
        if not listed:
            say(name, 1, "is named in no CMakeLists.txt")
        if name.startswith(("core/program/", "tests/")) or name in UNTESTED:
            continue
        stem = folder.stem
        room = room_of(name)
        homes = [n for n in names if n.startswith("tests/") and n.endswith(f"/{stem}_test.cpp")]
        if not homes:
            say(name, 1, f"has no test: expected tests/{room}/.../{stem}_test.cpp")


def main():
    breaches = []

    def say(name, line, what):
        breaches.append(f"{name}:{line}: {what}")

    files = dict(sources())
    for name, text in files.items():
        check_arrows(name, text, say)
        check_calls(name, text, say)
        check_form(name, text, say)
    check_tests(list(files), say)
    print("\n".join(sorted(set(breaches))) or f"{len(files)} sources keep the house rules")
    return 1 if breaches else 0


if __name__ == "__main__":
    sys.exit(main())
