# SPDX-License-Identifier: Apache-2.0
"""The Debian package, held against Debian's own programs: lintian, dpkg-deb, systemd-analyze, systemd-sysusers, man, bash.
Called as SCRIPT EYELEVEL BUILD-FOLDER."""
import pathlib
import re
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[3] / "support"))
from program import TOP, expect, eyelevel, finish, folder  # noqa: E402

BUILD = sys.argv[2]
HERE = TOP / "core/program/install"


def run(*command, **more):
    return subprocess.run([*map(str, command)], capture_output=True, text=True, timeout=200, **more)


def built(place):
    done = run("cpack", "-G", "DEB", "-B", place, cwd=BUILD)
    packages = list(pathlib.Path(place).glob("*.deb"))
    expect("one package is made", done.returncode == 0 and len(packages) == 1, done.stdout + done.stderr)
    return packages[0]


def as_debian_wants(package):
    done = run("lintian", "--allow-root", "--fail-on", "error", package)
    expect("lintian finds no error", done.returncode == 0, done.stdout + done.stderr)
    control = run("dpkg-deb", "-f", package).stdout
    expect("the libraries it needs are worked out", all(f" {name}" in control for name in ("libc6", "libsodium23", "libssl3")), control)
    expect("what the workshop writes is not written over", run("dpkg-deb", "--info", package, "conffiles").stdout ==
           "/etc/eyelevel/eyeleveld.conf\n")


def unpacked(package, place):
    run("dpkg-deb", "-x", package, place)
    program = place / "usr/bin/eyelevel"
    done = run(program, "check", place / "usr/share/eyelevel/sequences/ready/pickup-level.yaml")
    expect("the program in it runs, and its sequences are fine", done.returncode == 0, done.stdout + done.stderr)
    conf = (place / "etc/eyelevel/eyeleveld.conf").read_text()
    (place / "here.conf").write_text(re.sub(r'"(/(?:usr|etc|var))', rf'"{place}\1', conf))
    done = run(place / "usr/bin/eyeleveld", "--config", place / "here.conf")
    expect("the daemon takes its configuration, and misses the bench that nobody has described yet",
           done.returncode == 2 and f"{place}/etc/eyelevel/benches/bench.yaml" in done.stderr and "plugin" not in done.stderr, done.stderr)
    (place / "wrong.conf").write_text("lissten = \"127.0.0.1:0\"\n")
    done = run(place / "usr/bin/eyeleveld", "--config", place / "wrong.conf")
    expect("a word that there is not is refused", done.returncode == 2 and "lissten" in done.stderr, done.stderr)


def as_systemd_wants(place):
    done = run("systemd-analyze", "security", "--offline=true", "--threshold=20", HERE / "eyeleveld.service")
    expect("the unit leaves at most 2.0 of 10 open", done.returncode == 0, done.stdout[-300:] + done.stderr)
    unit = place / "eyeleveld.service"
    unit.write_text((HERE / "eyeleveld.service").read_text().replace("/usr/bin/", f"{place}/usr/bin/"))
    done = run("systemd-analyze", "verify", "--man=no", unit)
    expect("systemd reads it without a word", done.returncode == 0 and done.stderr == "", done.stderr)
    done = run("systemd-sysusers", f"--root={place}", "eyelevel.conf")
    users = (place / "etc/passwd").read_text()
    expect("the daemon gets a user that cannot sign in", re.search(r"^eyelevel:x:\d+:.*:/var/lib/eyelevel:/usr/sbin/nologin$", users, re.M),
           users + done.stderr)
    for script in ("postinst", "prerm", "postrm"):
        done = run("sh", "-n", HERE / script)
        expect(f"{script} can be read", done.returncode == 0, done.stderr)


def manual(place):
    for program in ("eyelevel", "eyeleveld"):
        page = place / f"usr/share/man/man1/{program}.1.gz"
        done = run("man", "--warnings", "-l", page, env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8", "MANWIDTH": "200"})
        expect(f"man shows the page of {program} without a warning", done.returncode == 0 and done.stderr == "", done.stderr)
        seen = re.sub(r"\x1b\[[0-9;]*m|.\x08", "", done.stdout)
        asked = run(place / "usr/bin" / program, "--help").stdout
        options = set(re.findall(r"--[a-z-]+", asked))
        expect(f"it holds what {program} --help does", len(options) > 1 and options <= set(re.findall(r"--[a-z-]+", seen)),
               options - set(re.findall(r"--[a-z-]+", seen)))


def completed(place, *words):
    """What bash offers for the last word."""
    program = words[0]
    script = (f"source {place}/usr/share/bash-completion/completions/{program}; COMP_WORDS=({' '.join(repr(w) for w in words)}); "
              f"COMP_CWORD={len(words) - 1}; _{program}; echo \"${{COMPREPLY[@]}}\"")
    done = run("bash", "-eu", "-c", script)
    return done.stdout.split() if done.returncode == 0 else [done.stderr]


def completion(place):
    for words, wanted in [(("eyelevel", "re"), ["rehearse", "records", "report", "reference"]), (("eyelevel", "run", "--se"), ["--serial", "--set"]),
                          (("eyelevel", "run", "--serial", "check", "--sto"), ["--store"]), (("eyelevel", "run", "x.y"), []),
                          (("eyeleveld", "user", "add", "--r"), ["--rights"]), (("eyeleveld", "--list"), ["--listen"])]:
        found = completed(place, *words)
        expect(f"bash completes {' '.join(words)}", sorted(found) == sorted(wanted), found)


with folder() as made, folder() as place:
    package = built(made)
    as_debian_wants(package)
    place = pathlib.Path(place)
    unpacked(package, place)
    as_systemd_wants(place)
    manual(place)
    completion(place)
expect("a description in a form that there is not is refused", eyelevel("--describe", "poem").returncode == 2)
finish()
