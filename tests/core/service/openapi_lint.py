# SPDX-License-Identifier: Apache-2.0
"""The OpenAPI document of a running daemon, held against a linter from npm. Called as SCRIPT EYELEVEL EYELEVELD NODE FOLDER."""
import json
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1] / "support"))
from daemon import Daemon  # noqa: E402
from program import expect, finish, folder  # noqa: E402

NODE, MODULES = sys.argv[3:5]


def linted(document, place):
    path = pathlib.Path(place) / "openapi.json"
    path.write_text(json.dumps(document))
    return subprocess.run([NODE, str(HERE / "openapi_lint.mjs"), MODULES, str(path)], capture_output=True, text=True, timeout=60)


with folder() as state:
    daemon = Daemon(state)
    document = daemon.get("/api/1/openapi.json")
    daemon.end()
    done = linted(document, state)
    expect("the linter finds nothing", done.returncode == 0, done.stdout + done.stderr)
    del document["paths"]["/api/1/jobs/{job}"]["get"]["parameters"]
    done = linted(document, state)
    expect("and would find a parameter that is not described", done.returncode == 1 and "job" in done.stdout, done.stdout + done.stderr)
finish()
