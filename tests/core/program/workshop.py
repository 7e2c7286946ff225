# SPDX-License-Identifier: Apache-2.0
"""What all runs say together: a store of many runs in which one bench goes low, one person reads low and one unit ages; found by
the program, in the time that a page may take. `workshop.py EYELEVEL 1000000` makes it a million runs (tests/long)."""
import csv
import io
import json
import pathlib
import random
import resource
import sqlite3
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import as_json, expect, eyelevel, finish, folder  # noqa: E402

RUNS = int(sys.argv[2]) if len(sys.argv) > 2 else 6000
LEVEL = "sequences/ready/pickup-level.yaml"
HOUR_S, BEGIN = 600, 1893456000  # a run each ten minutes from 2030-01-01 on
PEOPLE = ("anna", "ben", "cem")


def rows(random_one):
    """Bench 2 reads 4 % low in the last 2000; cem reads 20 mV low; every 20th run is of the check unit."""
    for n in range(RUNS):
        bench, person = n % 3 + 1, random_one.choice(PEOPLE)
        check = n // 3 % 20 == 0
        value = 1.2 + (0 if check else random_one.gauss(0, 0.02)) + random_one.gauss(0, 0.008)
        value -= 0.02 if person == "cem" and not check else 0
        value *= 0.96 if bench == 2 and n >= RUNS - 2000 else 1
        yield n, "LF2-CHECK" if check else f"LF2-{n // 12}", f"bench {bench}", person, value


def fill(store):
    """As many runs as a program could not make here, straight into the tables."""
    db = sqlite3.connect(store)
    utc = "strftime('%Y-%m-%dT%H:%M:%S.000Z', ?, 'unixepoch')"
    day = "strftime('%Y-%m-%d', ?, 'unixepoch')"
    runs = ((BEGIN + HOUR_S * n, n, BEGIN + HOUR_S * n, n, BEGIN + HOUR_S * n, BEGIN + HOUR_S * n, serial, bench,
             "fail" if value < 1.14 else "pass", person) for n, serial, bench, person, value in rows(random.Random(7)))
    db.executemany(f"INSERT INTO run (id, day, number, begun_utc, closed_utc, sequence, serial, model, bench, ended, judgement, operator) "
                   f"VALUES ({day} || '-' || ?, {day}, ?, {utc}, {utc}, 'pickup-level', ?, 'LF-2', ?, 'finished', ?, ?)", runs)
    values = ((value, BEGIN + HOUR_S * n, n) for n, _, _, _, value in rows(random.Random(7)))
    db.executemany(f"INSERT INTO reading SELECT id, 9, 'level_pressed', ?, 'V', 0.01, 0.02, 1.08, 1.32, judgement, begun_utc, "
                   f"sequence, serial, model, bench, operator FROM run WHERE id = {day} || '-' || ?", values)
    db.execute("ANALYZE")
    db.commit()
    db.close()


def processor_s():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


with folder() as at:
    store = pathlib.Path(at) / "records.db"

    def workshop(*arguments):
        return eyelevel("workshop", *arguments, "--store", store)

    def said(*arguments):
        return as_json(workshop(*arguments, "--json"))

    expect("without a store it is said", workshop().returncode == 2)
    eyelevel("records", "take-in", "LF2-5", "--model", "LF-2", "--complaint", "skips", "--hours", 100, "--by", "anna", "--store", store)
    empty = workshop()
    expect("an empty workshop has nothing to tell", empty.returncode == 0 and "nothing to tell from" in empty.stdout, empty.stdout)
    fill(store)

    # The page.
    begin = processor_s()
    page = said("--check-unit", "LF2-CHECK")
    page_s = processor_s() - begin
    first = page["sentences"][0]
    expect("the first sentence names the bench that drifts, how far and since when",
           first.startswith("bench 2 reads ") and "% low since" in first and "first seen" in first and "check unit" in first, first)
    expect("the person who reads low is named", any(s.startswith("cem reads") and "lower" in s for s in page["sentences"]), page["sentences"])
    expect("nobody else is", not any(s.startswith(("anna", "bench 1", "bench 3")) for s in page["sentences"]), page["sentences"])
    expect("the reading that is judged most often is charted", page["reading"] == "level_pressed" and page["unit"] == "V")
    begin = processor_s()
    whole = said("--check-unit", "LF2-CHECK", "--since", "2030-01-01")
    whole_s = processor_s() - begin
    counted = [sum(p["yield"]["all"][k] for k in ("passed", "failed", "undecided", "not_judged")) for p in (page, whole)]
    checks = sum(1 for n in range(RUNS) if n // 3 % 20 == 0)
    expect("every run is counted but for those of the check unit, usually of the last half year", counted[1] == RUNS - checks and
           counted[0] <= 183 * 144, counted)
    words = workshop("--check-unit", "LF2-CHECK").stdout
    expect("in words first, then in tables", words.startswith("bench 2") and "by week from" in words and "limits" in words, words[:400])
    one = said("--bench", "bench 1", "--since", "2030-01-10", "--until", "2030-01-20")
    expect("only that bench and those days", [c["bench"] for c in one["charts"]] == ["bench 1"]
           and all("2030-01-10" <= p["utc"][:10] <= "2030-01-20" for c in one["charts"] for p in c["points"]))
    turned = workshop("--since", "2030-01-20", "--until", "2030-01-10")
    expect("days the wrong way round are refused", turned.returncode == 2 and "exchange the two days" in turned.stderr, turned.stderr)
    absent = workshop("--reading", "jitter")
    expect("a reading that nobody took is said", absent.returncode == 2 and "no reading jitter" in absent.stderr, absent.stderr)
    for end, begins in (("png", b"\x89PNG"), ("pdf", b"%PDF"), ("svg", b"<?xml")):
        picture = pathlib.Path(at) / f"charts.{end}"
        workshop("--check-unit", "LF2-CHECK", "-o", picture)
        expect(f"the charts come as {end}", picture.read_bytes().startswith(begins))
    expect("any other ending is refused", workshop("-o", pathlib.Path(at) / "charts.txt").returncode == 2)

    # A correction is respected.
    point = one["charts"][0]["points"][0]
    db = sqlite3.connect(store)
    db.execute("INSERT INTO book (placed_utc, utc, kind, subject, concerns, by_whom, because, body) VALUES ('2031-01-01T00:00:00.000Z', "
               "'2031-01-01T00:00:00.000Z', 'run corrected', ?, '', 'anna', 'wrong disc', ?)",
               (point["run"], json.dumps({"version": 1, "reading": "level_pressed", "counts": False})))
    db.commit()
    db.close()
    after = said("--bench", "bench 1", "--since", "2030-01-10", "--until", "2030-01-20")
    expect("a reading that was struck out is left out", after["readings"] == one["readings"] - 1, (after["readings"], one["readings"]))

    # Deviations are from the model's reference, once there is one; of two for different discs nobody knows which.
    expect("without a reference they are from the mean", not one["charts"][0]["centre_is_reference"])
    for disc, centre in (("pressed", 1.25), ("recordable", None)):
        eyelevel("reference", "set", "LF-2", "--reading", "level_pressed", "--disc", disc, "--at-least", "1.15 V", "--at-most", "1.35 V",
                 "--service-data", "service manual LF-2, 5.2", "--by", "anna", "--because", "service data", "--store", store)
        chart = said("--bench", "bench 1")["charts"][0]
        expect(f"with the reference of a {disc} disc", chart["centre_is_reference"] == (centre is not None)
               and (centre is None or chart["centre"] == centre), (chart["centre"], chart["centre_is_reference"]))

    # A unit.
    begin = processor_s()
    unit = said("unit", "LF2-5", "--power-loop", "no")
    unit_s = processor_s() - begin
    expect("a unit's readings over the years", len(unit["readings"][0]["readings"]) > 5 and unit["life"] is None
           and "without a power loop" in unit["sentences"][0], unit)
    expect("an unknown unit is said", workshop("unit", "LF9-1").returncode == 2)

    # A gauge study.
    study = ("--units", "G1,G2,G3", "--operators", "anna,ben", "--repeats", 2)
    plan = workshop("gauge", "--plan", *study, "--seed", 5)
    jobs = list(csv.DictReader(io.StringIO(plan.stdout)))
    expect("the plan holds every job once and its seed", len({(j["unit"], j["operator"], j["repeat"]) for j in jobs}) == 12
           and len(jobs) == 12 and "Seed 5" in plan.stderr, plan.stdout)
    expect("the same seed plans the same", workshop("gauge", "--plan", *study, "--seed", 5).stdout == plan.stdout)
    missing = workshop("gauge", "--report", *study, "--reading", "level_pressed")
    expect("what is missing is named", missing.returncode == 2 and "G1 by anna 0 of 2" in missing.stderr, missing.stderr)
    db = sqlite3.connect(store)
    noise = random.Random(3)
    for job in jobs:
        run = f"2031-06-01-{job['order']}"
        begun = f"2031-06-01T08:{int(job['order']):02}:00.000Z"
        db.execute("INSERT INTO run (id, day, number, begun_utc, serial, model, ended, operator) VALUES (?, '2031-06-01', ?, ?, ?, 'LF-2', "
                   "'finished', ?)", (run, job["order"], begun, job["unit"], job["operator"]))
        db.execute("INSERT INTO reading VALUES (?, 9, 'level_pressed', ?, 'V', 0.01, 0.02, 1.08, 1.32, 'pass', ?, '', ?, 'LF-2', '', ?)",
                   (run, 1.15 + 0.05 * int(job["unit"][1]) + noise.gauss(0, 0.001), begun, job["unit"], job["operator"]))
    db.commit()
    db.close()
    good = workshop("gauge", "--report", *study, "--reading", "level_pressed")
    expect("a good measurement is called so", good.returncode == 0 and good.stdout.startswith("The measurement is good enough"), good.stdout)
    both = workshop("gauge", "--plan", "--report", *study)
    expect("either planned or reported", both.returncode == 2 and "either planned or reported" in both.stderr)
    expect("spares of books without pickups", "know no pickup" in workshop("spares").stdout)

    # Of a store of a million runs a page may take a second, a unit's history a tenth (processor time; starting the
    # program included).
    print(f"{RUNS} runs: workshop page {page_s:.3f} s, of all years {whole_s:.3f} s, unit history {unit_s:.3f} s of processor time")
    expect("the page is there in a second", page_s < 1, page_s)
    expect("a unit's history is there in a tenth", unit_s < 0.1, unit_s)

finish()
