# SPDX-License-Identifier: Apache-2.0
"""Every test that instruments/transport/README.md names in its table of troubles exists."""
import pathlib
import re
import sys

TOP = pathlib.Path(__file__).resolve().parents[2]
page = (TOP / "instruments/transport/README.md").read_text()
table = page.split("| trouble |")[1].splitlines()[2:]
sources = "\n".join(p.read_text() for p in (TOP / "tests").rglob("*_test.cpp"))
# Adjacent literals are one text.
there = set(re.findall(r'TEST_CASE\(\s*"((?:[^"\\]|\\.)*)"', re.sub(r'"\s*\n\s*"', "", sources)))
missing = []
rows = [row for row in table if row.startswith("|")]
for row in rows:
    named = re.findall(r"`([^`]+)`", row.rstrip("| ").rsplit("|", 1)[1])
    if not named:
        missing.append(f"no test is named: {row}")
    missing += [f"no such test: {name}" for name in named if name not in there]
print("\n".join(missing) or f"{len(rows)} troubles, each with its tests")
sys.exit(1 if missing or len(rows) < 15 else 0)
