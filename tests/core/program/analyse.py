# SPDX-License-Identifier: Apache-2.0
"""`eyelevel analyse` on waveforms that nobody here made, held against their truth by the judge that came with them."""
import importlib.util
import json
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import TOP, as_json, expect, eyelevel, finish, folder  # noqa: E402

DATA = TOP / "tests/data/waveforms"
spec = importlib.util.spec_from_file_location("judge", DATA / "judge.py")
judge = importlib.util.module_from_spec(spec)
spec.loader.exec_module(judge)


def document(path):
    doc = json.loads(path.read_text())
    doc.setdefault("kind", "eye" if doc.get("eye") else "none")
    doc["truth"] = dict({k: doc[k] for k in ("scale_v", "offset_v", "dark_v") if k in doc}, **doc.get("truth", {}))
    return doc


cases = sorted(DATA.glob("*.npy"))
expect("nine stored waveforms are there", len(cases) == 9, cases)
for case in cases:
    doc = document(case.with_suffix(".json"))
    arguments = [f"--rate={doc['rate_hz']}", f"--scale={doc['scale_v']}", f"--offset={doc['offset_v']}"]
    if doc["dark_v"] is not None:
        arguments.append(f"--dark={doc['dark_v']}")
    done = eyelevel("analyse", case, *arguments, "--json")
    bad = judge.judge(doc, as_json(done), done.returncode)
    expect(f"{case.stem}: every number within its tolerance", not bad, "\n       ".join(bad))
    expect(f"{case.stem}: exit status says whether there was an eye", done.returncode == (0 if doc["eye"] else 1), done.returncode)

page = eyelevel("analyse", DATA / "pressed-audio.npy", "--dark=0")
expect("the page for people names level and place", "1.2999 V" in page.stdout and "track 2, index 1" in page.stdout, page.stdout)

with folder() as at:
    at = pathlib.Path(at)
    (at / "codes.npy").write_bytes((DATA / "pressed-audio.npy").read_bytes())
    refused = eyelevel("analyse", at / "codes.npy", "--rate=20e6")
    expect("integer codes without a scale are refused with 2 and say what to add",
           refused.returncode == 2 and "--scale" in refused.stderr, refused.stderr)
    (at / "short.csv").write_text("time,volts\n0,1\n1e-6,oops\n")
    refused = eyelevel("analyse", at / "short.csv")
    expect("text that is no number is refused with its line", refused.returncode == 2 and "3" in refused.stderr, refused.stderr)
    refused = eyelevel("analyse", at / "nowhere.npy")
    expect("a file that is not there is refused by name", refused.returncode == 2 and "nowhere.npy" in refused.stderr, refused.stderr)
finish()
