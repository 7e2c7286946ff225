#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""A portmapper that nobody here wrote tells our client where VXI-11 is served: rpcbind_server.py SERVER EYELEVEL.

Debian's rpcbind has port 111, in a network of its own (unshare). It is told the port of our server's core channel as an instrument's own
software would tell it (RFC 1833, 3.2: PMAPPROC_SET), and the client asks it as it asks any instrument. Exit status 0 when everything held;
77, ctest's skip return code, with the reason printed, when such a network or rpcbind is not to be had.
"""
import os
import shutil
import socket
import struct
import subprocess
import sys
import time

failures = []
CORE, TCP = 395183, 6
SET, UNSET, GETPORT = 1, 2, 3
OTHER_PORTMAPPER = 1111


def check(name, good, seen=""):
    print(("ok    " if good else "WRONG ") + name + (f": {seen}" if not good else ""), flush=True)
    if not good:
        failures.append(name)


def skip(why):
    print(f"skipped: {why}")
    sys.exit(77)


if "--inside" not in sys.argv:
    own_network = ["unshare", *([] if os.geteuid() == 0 else ["--map-root-user"]), "--net", "--mount"]
    if not shutil.which("unshare") or subprocess.run(own_network + ["true"], capture_output=True).returncode != 0:
        skip("this system gives no network of its own (unshare --net --mount)")
    sys.exit(subprocess.run(own_network + [sys.executable, __file__, *sys.argv[1:], "--inside"]).returncode)

os.environ["PATH"] = os.environ.get("PATH", "") + ":/usr/sbin:/sbin"
for needed in ("ip", "rpcbind"):
    if not shutil.which(needed):
        skip(f"{needed} is not installed; the packages are iproute2 and rpcbind")
subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
subprocess.run(["mount", "-t", "tmpfs", "tmpfs", "/run"], check=True)  # where a system's own rpcbind has its lock


def mapped(port_of_mapper, procedure, port=0):
    """One call of the portmapper, version 2, over UDP; gives its one number, or None when nobody answers."""
    call = struct.pack(">IIIIIIIIII", 7, 0, 2, 100000, 2, procedure, 0, 0, 0, 0) + struct.pack(">IIII", CORE, 1, TCP, port)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as link:
        link.settimeout(1)
        try:
            link.sendto(call, ("127.0.0.1", port_of_mapper))
            reply = link.recv(1000)
        except OSError:
            return None
    return struct.unpack(">I", reply[-4:])[0]


def until(answer, within_s=20):
    """Asked again until there is one."""
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        if (got := answer()) is not None:
            return got
        time.sleep(0.05)
    return None


def asked():
    done = subprocess.run([sys.argv[2], "ask", "TCPIP0::127.0.0.1::inst0::INSTR", "*IDN?"], capture_output=True, text=True, timeout=60)
    return done.returncode, done.stdout + done.stderr


mapper = subprocess.Popen(["rpcbind", "-f", "-i"])
server = subprocess.Popen([sys.argv[1], "127.0.0.1", str(OTHER_PORTMAPPER)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
try:
    check("the server serves", server.stdout.readline() == "serving\n")
    core = until(lambda: mapped(OTHER_PORTMAPPER, GETPORT))
    check("rpcbind answers, and knows nothing of VXI-11 yet", until(lambda: mapped(111, GETPORT)) == 0)
    status, said = asked()
    check("the client is told that there is none", status != 0 and "VXI-11" in said, said)
    check("rpcbind takes the port in", mapped(111, SET, core) == 1 and mapped(111, GETPORT) == core)
    status, said = asked()
    check("and the client finds the instrument there", status == 0 and said == "Eyelevel,first,0,1.0\n", said)
    check("rpcbind forgets it again", mapped(111, UNSET) == 1)
    status, said = asked()
    check("and the client is told so", status != 0 and "VXI-11" in said, said)
    mapper.terminate()
    mapper.wait(10)
    status, said = asked()
    check("without any portmapper the client says who did not answer", status != 0 and "111" in said, said)
finally:
    for process in (mapper, server):
        process.kill()
        process.wait()
sys.exit(1 if failures else 0)
