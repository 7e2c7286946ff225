# SPDX-License-Identifier: Apache-2.0
"""Every test that instruments/transport/README.md names in its tables of troubles and of hostile instruments exists."""
import pathlib
import re
import sys

TOP = pathlib.Path(__file__).resolve().parents[2]
page = (TOP / "instruments/transport/README.md").read_text()


def rows_of(heading):
    """The rows of the table under this heading of its first column."""
    lines = page.split(heading, 1)[1].splitlines()[2:]
    return [line for line in lines[:next(i for i, line in enumerate(lines + [""]) if not line.startswith("|"))]]


sources = "\n".join(p.read_text() for p in (TOP / "tests").rglob("*_test.cpp"))
# Adjacent literals are one text.
there = set(re.findall(r'TEST_CASE\(\s*"((?:[^"\\]|\\.)*)"', re.sub(r'"\s*\n\s*"', "", sources)))
missing = []
rows = rows_of("| trouble | what happens here") + rows_of("| what a hostile instrument sends")
for row in rows:
    named = re.findall(r"`([^`]+)`", row.rstrip("| ").rsplit("|", 1)[1])
    if not named:
        missing.append(f"no test is named: {row}")
    missing += [f"no such test: {name}" for name in named if name not in there]
print("\n".join(missing) or f"{len(rows)} rows, each with its tests")
sys.exit(1 if missing or len(rows) < 29 else 0)
