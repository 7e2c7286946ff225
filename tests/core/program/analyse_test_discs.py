# SPDX-License-Identifier: Apache-2.0
"""Which test disc a capture is of: `eyelevel analyse --test-discs`. Called as SCRIPT PROGRAM LEAD_IN."""
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

LIST = "examples/test-discs.yaml"
DATA = TOP / "tests/data/waveforms"

with folder() as at:
    at = pathlib.Path(at)
    # 18 sections of 13.3 ms are 0.24 s: the whole table, and half of it.
    for name, seconds in (("whole", 0.27), ("half", 0.12)):
        subprocess.run([sys.argv[2], at / f"{name}.npy", str(seconds)], check=True, timeout=100)
    whole = [at / "whole.npy", "--rate=9e6"]

    found = as_json(eyelevel("analyse", *whole, f"--test-discs={LIST}", "--json"))
    expect("a disc of the list is recognised", found["test_disc"] == {"name": "TD-1", "kind": "pressed"}
           and found["test_disc_why_not"] is None, (found["contents"], found["test_disc_why_not"]))
    page = eyelevel("analyse", *whole, f"--test-discs={LIST}")
    expect("the page names it", "test disc                   TD-1 (pressed)" in page.stdout, page.stdout)

    (at / "others.yaml").write_text("test discs:\n  - {name: X, mark: '3 tracks to 12:51:60, 0000', kind: recordable}\n")
    other = as_json(eyelevel("analyse", *whole, f"--test-discs={at / 'others.yaml'}", "--json"))
    expect("a disc that is not in the list is said to be none of it, with its mark", other["test_disc"] is None
           and other["test_disc_why_not"] == f"none of the 1 in {at / 'others.yaml'} has the mark {found['contents']['mark']}",
           other["test_disc_why_not"])
    plain = as_json(eyelevel("analyse", *whole, "--json"))
    expect("without a list both keys are null", plain["test_disc"] is None and plain["test_disc_why_not"] is None)

    half = eyelevel("analyse", at / "half.npy", "--rate=9e6", f"--test-discs={LIST}")
    expect("half a table says what is missing", "not known: its table of contents is not complete" in half.stdout, half.stdout)
    track = eyelevel("analyse", DATA / "pressed-audio.npy", f"--test-discs={LIST}")
    expect("a capture of a track asks for the lead-in", "no table of contents was read: capture the lead-in" in track.stdout,
           track.stdout)
    none = eyelevel("analyse", DATA / "tracking-open.npy", f"--test-discs={LIST}")
    expect("without an eye nothing is known", "not known: there is no eye" in none.stdout, none.stdout)

    (at / "wrong.yaml").write_text("test discs:\n  - {name: X, mark: oops, kind: pressed}\n")
    refused = eyelevel("analyse", *whole, f"--test-discs={at / 'wrong.yaml'}")
    expect("a list with a mistake is refused at its place, before anything is measured", refused.returncode == 2
           and "wrong.yaml:2:21: 'mark'" in refused.stderr and refused.stdout == "", refused.stderr)
    checked = eyelevel("check", at / "wrong.yaml", LIST)
    expect("check knows such lists", checked.returncode == 2 and "2:21" in checked.stdout
           and f"{LIST}: nothing wrong" in checked.stdout, checked.stdout)

finish()
