# SPDX-License-Identifier: Apache-2.0
"""Every `sh` block of our documents runs, every `yaml` block checks, every path and command that they name is there.

Not run: what installs or builds (the gate itself does it); of those lines only the program must exist. The address 192.0.2.10
(RFC 5737, for documents) becomes that of a simulated oscilloscope; questions are answered with Enter.
"""
import atexit
import json
import os
import pathlib
import re
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "support"))
from program import PROGRAM, TOP, Sim, expect, eyelevel, finish, folder  # noqa: E402

DOCUMENTS = subprocess.run(["git", "ls-files", "*.md"], cwd=TOP, capture_output=True, text=True, check=True).stdout.split()
ENDED = {"run": (0, 1)}  # a simulated unit may be judged either way
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.M | re.S)
INLINE = re.compile(r"`([^`\n]+)`")
BUILDS = ("examples/demo", "tests/run", "cmake", "cpack", "apt ", "cp /usr/share/eyelevel", "systemctl", "journalctl")


DAEMON = {"url": ""}  # of the document that began one


def begin_daemon(line, at, environment):
    """Beside what follows, on a free port; ends with this test."""
    process = subprocess.Popen([*line.split(), "--listen", "127.0.0.1:0", "--json"], cwd=at, env=environment,
                               stdout=subprocess.PIPE, text=True)
    atexit.register(process.kill)
    told = process.stdout.readline()
    expect(line, told, "it did not begin")
    DAEMON["url"] = json.loads(told)["url"] if told else ""


def run_line(line, at, environment, scope):
    """One line of a shell block, from a folder that looks like the top of the tree."""
    line = line.split("  #")[0].strip()
    if line.startswith(BUILDS):
        program = line.split()[0]
        expect(f"{line}: is there", "/" not in program or os.access(TOP / program, os.X_OK))
        return
    if line.startswith("eyeleveld"):
        begin_daemon(line, at, environment)
        return
    line = line.replace("http://127.0.0.1:8470", DAEMON["url"])
    for address, resource in zip(("TCPIP0::192.0.2.10::5025::SOCKET", "TCPIP0::192.0.2.10::hislip0::INSTR"), scope):
        line = line.replace(address, resource)
    done = subprocess.run(["bash", "-c", line], cwd=at, env=environment, input="\n" * 20, capture_output=True, text=True, timeout=100)
    verb = (line.split() + [""])[1]
    expect(line, done.returncode in ENDED.get(verb, (0,)), f"exit {done.returncode}\n{done.stdout[-600:]}{done.stderr[-600:]}")


def helps():
    """What each command's help says, by its name."""
    listed = re.findall(r"^  (\w+) ", eyelevel("--help").stdout.split("ubcommands:")[-1], re.M)
    return {name: eyelevel(name, "--help").stdout for name in listed}


def check_names(document, text, help_of):
    for code in INLINE.findall(BLOCK.sub("", text)):
        words = code.split()
        if words[0] == "eyelevel" and len(words) > 1 and not words[1].startswith("-"):
            known = help_of.get(words[1], "")
            unknown = [w for w in words[2:] if w.startswith("--") and w not in known]
            expect(f"{document}: {code}", known and not unknown, f"no such command, or its help does not know {unknown}")
        elif re.fullmatch(r"(core|instruments|sim|sequences|tests|examples)/[\w./-]+", words[0]):
            expect(f"{document}: {words[0]}", (TOP / words[0]).exists(), "no such file")


with folder() as at, Sim("--seed", 5) as sim:
    at = pathlib.Path(at)
    for name in ("sequences", "examples", "tests"):
        (at / name).symlink_to(TOP / name)
    (at / "bin").mkdir()
    for program in (pathlib.Path(PROGRAM).resolve(), pathlib.Path(PROGRAM).resolve().with_name("eyeleveld")):
        (at / "bin" / program.name).symlink_to(program)
    sim.bench_file(at).rename(at / "my-bench.yaml")
    (at / "my-scope.yaml").write_text((TOP / "instruments/phrasebook/standard/standard-digitiser.yaml").read_text())
    environment = {**os.environ, "PATH": f"{at / 'bin'}:{os.environ['PATH']}", "XDG_STATE_HOME": str(at)}
    help_of = helps()
    expect("the help names the commands", len(help_of) >= 9, list(help_of))
    for document in DOCUMENTS:
        text = (TOP / document).read_text()
        indented = [line for line in BLOCK.sub("", text).splitlines() if line.startswith("    ")]
        expect(f"{document}: each block is fenced and names its language", not indented, indented[:3])
        for language, block in BLOCK.findall(text):
            if language == "sh":
                for line in block.splitlines():
                    run_line(line, at, environment, sim.instruments[0]["resources"])
            elif language == "yaml":
                if block.startswith("part:"):
                    (at / "parts").mkdir(exist_ok=True)
                    (at / "parts" / (block.split()[1] + ".yaml")).write_text(block)  # the sequences behind it use it
                    continue
                (at / "block.yaml").write_text(block)
                checked = eyelevel("check", at / "block.yaml")
                expect(f"{document}: {block.splitlines()[0]} ... checks", checked.returncode == 0, checked.stdout + checked.stderr)
                if block.startswith("sequence:"):
                    played = eyelevel("rehearse", at / "block.yaml", "--seed", 3)
                    expect(f"{document}: {block.splitlines()[0]} ... rehearses", played.returncode == 0, played.stdout + played.stderr)
            else:
                expect(f"{document}: language of a block", language == "text", language)
        check_names(document, text, help_of)
finish()
