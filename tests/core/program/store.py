# SPDX-License-Identifier: Apache-2.0
"""Stores that cannot be used, and those that can only be read: refused with what would be right, never quietly made up."""
import os
import pathlib
import resource
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "sequences/ready/pickup-level.yaml"


def as_nobody(*arguments):
    """Root may write everywhere: then as a user who may not."""
    who = {"user": 65534, "group": 65534} if os.geteuid() == 0 else {}
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=TOP, text=True, capture_output=True, timeout=100, **who)


with folder() as at:
    at = pathlib.Path(at)
    for where, words in ((at, "this is a folder"), ("/dev/zero", "no regular file")):
        for command in (("rehearse", LEVEL, "--seed", 1), ("records",)):
            refused = eyelevel(*command, "--store", where)
            expect(f"{command[0]} with the store {where} is refused with 2 and says why",
                   refused.returncode == 2 and words in refused.stderr and "try:" in refused.stderr, refused.stderr)
    away = eyelevel("records", "--store", "postgresql://anna:secret@/records?host=/nowhere")
    expect("a database that cannot be reached ends with 3, is named without its password, and nothing is made of it",
           away.returncode == 3 and "cannot be reached" in away.stderr and "postgresql://anna@/records" in away.stderr
           and "secret" not in away.stderr and not (TOP / "postgresql:").exists(), away.stderr)
    bad = eyelevel("records", "--store", "postgresql://anna:secret@[::1/records")
    expect("a connection string that cannot be read is refused with 2 and not quoted",
           bad.returncode == 2 and "postgresql://USER@HOST:PORT/DATABASE" in bad.stderr and "secret" not in bad.stderr, bad.stderr)

    eyelevel("rehearse", LEVEL, "--seed", 1, "--units", 2, "--store", at / "old.db")
    before = as_json(eyelevel("records", "--store", at / "old.db", "--json"))
    moved = eyelevel("records", "move", at / "old.db", at / "new.db", "--json")
    expect("runs are moved to another store", moved.returncode == 0 and as_json(moved) == {"moved": 2, "left": 0}, moved.stderr)
    expect("as they were", before and as_json(eyelevel("records", "--store", at / "new.db", "--json")) == before)
    expect("and from the first they are gone", as_json(eyelevel("records", "--store", at / "old.db", "--json")) == [])

    stored = at / "kept"
    stored.mkdir()
    done = eyelevel("rehearse", LEVEL, "--seed", 1, "--store", stored / "a#b?.db")
    (stored / "a#b?.db").chmod(0o444)
    stored.chmod(0o555)
    at.chmod(0o755)
    shown = as_nobody("records", "--store", stored / "a#b?.db", "--json")
    expect("a store that may only be read is listed", shown.returncode == 0 and as_json(shown)[0]["ended"] == "finished", shown.stderr)
    sheet = as_nobody("report", "last", "--store", stored / "a#b?.db", "-o", "/dev/null/x.png")
    expect("and its sheet is drawn until where it cannot be written", sheet.returncode == 2 and "x.png" in sheet.stderr, sheet.stderr)
    refused = as_nobody("rehearse", LEVEL, "--seed", 1, "--store", stored / "a#b?.db")
    expect("but nothing is run into it", refused.returncode == 2 and "a#b?.db" in refused.stderr, refused.stderr)
    stored.chmod(0o755)

    def small_files():
        resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))

    full = subprocess.run([PROGRAM, "rehearse", LEVEL, "--seed", "1", "--json", "--store", str(at / "small.db")], cwd=TOP, text=True,
                          capture_output=True, timeout=100, preexec_fn=small_files)
    unit = as_json(full)["units"][0]
    expect("a store that cannot grow stops the run with 3; its JSON says stopped and why", full.returncode == 3
           and unit["ended"] == "stopped" and unit["error"]["code"] == "not_recording", f"{full.returncode} {unit} {full.stderr}")
    kept = eyelevel("report", "last", "--store", at / "small.db", "-o", at / "x.png")
    expect("what was stored until then is still reported", kept.returncode == 0, kept.stderr)
finish()
