# SPDX-License-Identifier: Apache-2.0
"""Old records give room, and come back: thinned out, archived, restored, backed up while a daemon runs. Killed (SIGKILL) at
random instants of thinning out and archiving, no reading and no run is lost. `records_keep.py EYELEVEL EYELEVELD [KILLS [SEED]]`"""
import pathlib
import random
import shutil
import sqlite3
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import Daemon  # noqa: E402
from program import PROGRAM, TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"
ANNA = ("--by", "anna")
KILLS, SEED = int(sys.argv[3]) if len(sys.argv) > 3 else 6, int(sys.argv[4]) if len(sys.argv) > 4 else 1


def aged(store):
    """Its runs as if they had begun long ago: nobody waits for ninety days."""
    with sqlite3.connect(store) as db:
        db.execute("UPDATE run SET begun_utc = '2020' || substr(begun_utc, 5)")
    db.close()


def runs_of(store):
    return {run["run"]: (run["ended"], run["judgement"]) for run in as_json(eyelevel("records", "--store", store, "--json"))}


def readings_of(store, run, at):
    shutil.rmtree(at, ignore_errors=True)
    told = eyelevel("export", run, "--store", store, "-o", at)
    return (at / f"{run}-readings.csv").read_text() if told.returncode == 0 else told.stderr


def killed_after(seconds, *arguments):
    """Whether it was still at it."""
    process = subprocess.Popen([PROGRAM, *map(str, arguments)], cwd=TOP, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        process.wait(seconds)
        return False
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return True


def by_hand(at, made):
    store = at / "records.db"
    shutil.copy(made, store)
    before = runs_of(store)
    run = next(iter(before))
    readings = readings_of(store, run, at / "export")
    young = as_json(eyelevel("records", "thin-out", "--store", store, "--after-days", 36500, "--dry-run", "--json"))
    expect("no run is that old", young == {"dry_run": True, "captures": 0, "runs": []}, young)
    dry = as_json(eyelevel("records", "thin-out", "--store", store, "--after-days", 90, "--dry-run", "--json"))
    expect("a dry run says what would go", dry["captures"] > 0 and len(dry["runs"]) == len(before), dry)
    nobody = eyelevel("records", "thin-out", "--store", store, "--after-days", 90)
    expect("who does it must be said", nobody.returncode == 2 and "--by" in nobody.stderr, nobody.stderr)
    done = as_json(eyelevel("records", "thin-out", "--store", store, "--after-days", 90, *ANNA, "--json"))
    expect("the dry run changed nothing, and was right", done == {**dry, "dry_run": False}, (done, dry))
    again = as_json(eyelevel("records", "thin-out", "--store", store, "--after-days", 90, *ANNA, "--json"))
    expect("once is enough", again["captures"] == 0, again)
    expect("readings and judgements stay", readings_of(store, run, at / "export") == readings and runs_of(store) == before)
    sheet = eyelevel("report", run, "--store", store, "-o", at / "sheet.svg")
    expect("its sheet is still drawn", sheet.returncode == 0, sheet.stderr)

    archive = at / "old.eyelevel"
    dry = eyelevel("records", "archive", archive, "--store", store, "--after-days", 90, "--dry-run")
    expect("a dry run of archiving writes nothing", dry.returncode == 0 and run in dry.stdout and not archive.exists(), dry.stdout)
    moved = as_json(eyelevel("records", "archive", archive, "--store", store, "--after-days", 90, *ANNA, "--json"))
    expect("old runs go into an archive", sorted(moved["runs"]) == sorted(before) and runs_of(store) == {}, moved)
    gone = eyelevel("report", run, "--store", store)
    expect("who looks for one learns where it is", gone.returncode != 0 and str(archive) in gone.stderr and "restore" in gone.stderr,
           gone.stderr)
    back = eyelevel("records", "restore", archive, "--store", store, *ANNA)
    expect("and they come back as they were",
           back.returncode == 0 and runs_of(store) == before and readings_of(store, run, at / "export") == readings, back.stderr)
    taken_in = eyelevel("import", archive, "--store", at / "other.db")
    expect("another store takes the archive in, too", taken_in.returncode == 0 and runs_of(at / "other.db") == before, taken_in.stderr)


def killed(at, made):
    random_ = random.Random(SEED)
    print(f"seed {SEED}, {KILLS} kills of each")
    begun = time.monotonic()
    whole = at / "whole.db"
    shutil.copy(made, whole)
    before = runs_of(whole)
    readings = {run: readings_of(whole, run, at / "export") for run in before}
    eyelevel("records", "thin-out", "--store", whole, "--after-days", 90, *ANNA)
    takes_s = time.monotonic() - begun
    at_work = lost = 0
    for kill in range(KILLS):
        store = at / f"killed-{kill}.db"
        shutil.copy(made, store)
        at_work += killed_after(random_.uniform(0, takes_s), "records", "thin-out", "--store", store, "--after-days", 90, *ANNA)
        lost += sum(readings_of(store, run, at / "export") != readings[run] for run in before)
        archives = [at / f"{kill}-a", at / f"{kill}-b"]
        at_work += killed_after(random_.uniform(0, takes_s / 2), "records", "archive", archives[0], "--store", store, "--after-days", 90,
                                *ANNA)
        eyelevel("records", "archive", archives[1], "--store", store, "--after-days", 90, *ANNA)
        for archive in archives:
            if archive.exists():
                eyelevel("records", "restore", archive, "--store", store, *ANNA)
        lost += sum(readings_of(store, run, at / "export") != readings[run] for run in before) + (runs_of(store) != before)
    expect(f"{2 * KILLS} kills, {at_work} of them at work: nothing is lost", lost == 0 and at_work > 0, (lost, at_work))


def backed_up(at, made):
    state = at / "state"
    state.mkdir()
    shutil.copy(made, state / "records.db")
    before = runs_of(made)
    daemon = Daemon(state, "--retention", rules(at))
    shown = daemon.get("/api/1/retention")
    expect("the daemon tells its rules and when they are applied next", shown["rules"]["thin_out_after_days"] == 90 and shown["next_utc"],
           shown)
    copy = eyelevel("records", "backup", at / "backup", "--state", state, "--json")
    expect("a backup is made while the daemon runs",
           copy.returncode == 0 and {"records.db", "access.db", "owner"} <= set(as_json(copy)["files"]), copy.stderr)
    expect("by these rules captures go, numbers stay", daemon.ask("POST", "/api/1/retention", {"dry_run": False})[2]["captures"] > 0
           and runs_of(state / "records.db") == before)
    run = next(iter(before))
    told = daemon.get(f"/api/1/runs/{run}")
    expect("the run says so", told["thinned_out"]["captures"] > 0 and any(c["thinned_out"] for c in told["captures"]), told)
    daemon.end()
    twice = eyelevel("records", "backup", at / "backup", "--state", state)
    expect("a backup is never written over", twice.returncode == 2 and "not empty" in twice.stderr, twice.stderr)

    full = eyelevel("records", "restore", at / "backup", "--state", state)
    expect("nor a state folder", full.returncode == 2 and "not empty" in full.stderr, full.stderr)
    (at / "new").mkdir()
    back = eyelevel("records", "restore", at / "backup", "--state", at / "new")
    expect("a backup is restored into an empty folder", back.returncode == 0 and runs_of(at / "new" / "records.db") == before, back.stderr)
    daemon = Daemon(at / "new")
    told = daemon.get(f"/api/1/runs/{run}")
    expect("with all its captures, and a daemon works on it", told["thinned_out"] is None
           and daemon.ask("GET", f"/api/1/runs/{run}/captures/{told['captures'][5]['event']}.npy")[0] == 200, told)
    daemon.end()

    with open(at / "backup" / "records.db", "r+b") as file:
        file.seek(5000)
        file.write(b"\xff")
    damaged = eyelevel("records", "restore", at / "backup", "--state", at / "third")
    expect("a damaged backup is refused and makes nothing",
           damaged.returncode == 2 and "records.db" in damaged.stderr and not (at / "third").exists(), damaged.stderr)
    none = eyelevel("records", "restore", at / "new", "--state", at / "third")
    expect("a folder that is no backup is refused", none.returncode == 2 and "no whole backup" in none.stderr, none.stderr)


def rules(at):
    path = at / "retention.yaml"
    path.write_text("retention:\n  thin out after days: 90\n")
    return path


with folder() as top:
    top = pathlib.Path(top)
    made = top / "made.db"
    eyelevel("rehearse", LEVEL, "--seed", 7, "--units", 3, "--store", made)
    aged(made)
    for part in (by_hand, killed, backed_up):
        (top / part.__name__).mkdir()
        part(top / part.__name__, made)
    checked = eyelevel("check", rules(top))
    expect("rules are checked like any other file", checked.returncode == 0 and "nothing wrong" in checked.stdout, checked.stdout)
finish()
