# SPDX-License-Identifier: Apache-2.0
"""The pictures that `eyelevel analyse --pictures` writes, and the names that it tells."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, expect, eyelevel, finish, folder  # noqa: E402

DATA = TOP / "tests/data/waveforms"
BEGINS = {".png": b"\x89PNG", ".svg": b"<?xml", ".pdf": b"%PDF-"}


def names(of):
    return {path.stem for path in of.iterdir()}


with folder() as at:
    at = pathlib.Path(at)
    out = at / "new" / "pictures"
    plain = eyelevel("analyse", DATA / "damaged-symbols.npy")
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--pictures={out}")
    expect("the page and the exit status are the same with pictures",
           (done.returncode, done.stdout) == (plain.returncode, plain.stdout), done.stderr)
    expect("an eye gives five pictures", names(out) == {"eye", "run-lengths", "jitter", "envelope", "block-errors"}, names(out))
    expect("each as PNG, SVG and PDF", all(path.read_bytes().startswith(BEGINS[path.suffix]) for path in out.iterdir())
           and len(list(out.iterdir())) == 15, sorted(out.iterdir()))
    named = {line for line in done.stderr.splitlines() if not line.startswith("==")}  # without what a sanitizer says itself
    expect("the files that were written are named", named - {""} == {str(path) for path in out.iterdir()}, done.stderr)

    out = at / "no-eye"
    done = eyelevel("analyse", DATA / "tracking-open.npy", f"--pictures={out}")
    expect("without an eye there is the envelope alone", names(out) == {"envelope"}, names(out))

    (at / "file").write_text("not a folder")
    done = eyelevel("analyse", DATA / "damaged-symbols.npy", f"--pictures={at / 'file'}")
    expect("what is no folder is refused by name", done.returncode == 2 and str(at / "file") in done.stderr,
           (done.returncode, done.stderr))

finish()
