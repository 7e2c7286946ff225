# SPDX-License-Identifier: Apache-2.0
"""How guided adjustment did: adjusting.py RESULT.json [lost], the output of `eyelevel rehearse sequences/ready/adjust.yaml --json`.

Units that needed adjusting: the level is brought within limits in a median of 3 turns, in 6 for 95 %; after the first turn no
unit that began below the ceiling passes it by a turn done as advised, those that began above the limits counted apart; fewer
than 1 % end with a finding. With `lost`, units for which no trimmer position lies within limits: 99 % end with a finding that
says so. Prints its figures, of a simulator and not of the field; exit 1 when one is not met.
"""
import json
import sys

result = json.load(open(sys.argv[1]))
is_lost = sys.argv[2:] == ["lost"]
units = [u for u in result["units"] if u["ended"] == "finished"]
stopped = len(result["units"]) - len(units)
bad = []


def later(unit, as_asked):
    """Highest level after turns beyond the first."""
    levels = [t["highest_level_v"] for t in unit["turning"][1:]
              if t["highest_level_v"] is not None and (not as_asked or (t["asked_deg"] > 0) == (t["turned_deg"] > 0))]
    return max(levels, default=0)


def reading(unit, name):
    return next(r for r in unit["readings"] if r["name"] == name)


def began_low(unit):
    limit = reading(unit, "level_after")
    return reading(unit, "level_before")["value"] < (limit["at_least"] + limit["at_most"]) / 2


def expect(text, is_met):
    print(f"{text}{'' if is_met else '  WRONG'}")
    if not is_met:
        bad.append(text)


adjusted = [u for u in units if u.get("turns", 0) > 0]
print(f"seed {result['seed']}: {len(result['units'])} units, {stopped} not finished, {len(adjusted)} adjusted")
if is_lost:
    outside = [u for u in units if "turns" in u]
    known = [u for u in outside if u["findings"]]
    expect(f"no position within limits: {len(known)} of {len(outside)} recognised",
           len(outside) > 0 and len(known) >= int(0.99 * len(outside)))
    causes = {}
    for u in known:
        for finding in u["findings"]:
            causes[finding["cause"]] = causes.get(finding["cause"], 0) + 1
    print("  " + ", ".join(f"{cause}: {n}" for cause, n in sorted(causes.items(), key=lambda c: -c[1])))
    turns = sorted(u["turns"] for u in known)
    print(f"  after a median of {turns[len(turns) // 2]} turns")
    expect(f"none passes: {sum(u['judgement'] == 'pass' for u in outside)}", all(u["judgement"] != "pass" for u in outside))
else:
    turns = sorted(u["turns"] if u["judgement"] == "pass" else 99 for u in adjusted)
    median, most = turns[len(turns) // 2], turns[min(len(turns) - 1, len(turns) * 95 // 100)]
    expect(f"median {median} turns, 95 % within {most}", median <= 3 and most <= 6)
    low = [u for u in adjusted if began_low(u)]
    high = [u for u in adjusted if not began_low(u)]
    for name, some, must in (("began low", low, True), ("began high", high, False)):
        first = sum((u["turning"][0]["highest_level_v"] or 0) > u["ceiling_v"] for u in some if u["turning"])
        advised = sum(later(u, True) > u["ceiling_v"] for u in some)
        any_way = sum(later(u, False) > u["ceiling_v"] for u in some)
        text = (f"{name}: {len(some)}; beyond the ceiling after the first turn {first}, later as advised {advised}, "
                f"with turns against the advice {any_way}")
        if must:
            expect(text, advised == 0)
        else:
            print(text)
    rejected = sum(bool(u["findings"]) for u in adjusted)
    expect(f"given up with a finding: {rejected}", rejected <= max(1, 0.01 * len(adjusted)))
if not adjusted and not is_lost:
    bad.append("nothing was adjusted")
sys.exit(1 if bad else 0)
