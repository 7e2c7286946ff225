#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""Clients that nobody here wrote talk VXI-11 to our server: vxi11_clients.py SERVER EYELEVEL.

They look for the portmapper on port 111 and nowhere else, so that all this runs in a network of its own (unshare) where the
port is free. Needs the Debian packages python3-pyvisa-py, lxi-tools and rpcbind (its rpcinfo). Exit status 0 when everything
held; 77, ctest's skip return code, with the reason printed, when such a network or a client is not to be had.
"""
import os
import shutil
import socket
import subprocess
import sys

failures = []


def check(name, good, seen=""):
    print(("ok    " if good else "WRONG ") + name + (f": {seen}" if not good else ""), flush=True)
    if not good:
        failures.append(name)


def skip(why):
    print(f"skipped: {why}")
    sys.exit(77)


if "--inside" not in sys.argv:
    own_network = ["unshare", "--net"] if os.geteuid() == 0 else ["unshare", "--map-root-user", "--net"]
    if not shutil.which("unshare") or subprocess.run(own_network + ["true"], capture_output=True).returncode != 0:
        skip("this system gives no network of its own (unshare --net)")
    sys.exit(subprocess.run(own_network + [sys.executable, __file__, *sys.argv[1:], "--inside"]).returncode)

for needed in ("ip", "rpcinfo", "lxi"):
    if not shutil.which(needed, path=os.environ.get("PATH", "") + ":/usr/sbin:/sbin"):
        skip(f"{needed} is not installed; the packages are iproute2, rpcbind, lxi-tools")
try:
    import pyvisa
    import pyvisa_py  # noqa: F401 (the backend that "@py" names)
except ImportError as missing:
    skip(f"{missing}; install python3-pyvisa and python3-pyvisa-py")

os.environ["PATH"] = os.environ.get("PATH", "") + ":/usr/sbin:/sbin"
subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
SERVER = sys.argv[1]


def ran(*arguments):
    done = subprocess.run(arguments, capture_output=True, text=True, timeout=60)
    return done.returncode, done.stdout + done.stderr


# A portmapper that is there already is told.
with socket.socket() as held:
    held.bind(("127.0.0.1", 111))
    held.listen()
    status, said = ran(SERVER, "127.0.0.1", "111")
    check("a held port 111 is told", status == 3 and "own portmapper" in said and "systemctl stop rpcbind" in said, said)

server = subprocess.Popen([SERVER, "127.0.0.1", "111"], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
line = server.stdout.readline()
check("the server serves", line == "serving\n", line)

# The system's own RPC client.
status, said = ran("rpcinfo", "-p", "127.0.0.1")
check("rpcinfo lists core and abort channel", status == 0 and "395183" in said and "395184" in said, said)
status, said = ran("rpcinfo", "-t", "127.0.0.1", "395183", "1")
check("rpcinfo finds the core channel ready", status == 0 and "ready and waiting" in said, said)
status, said = ran("rpcinfo", "-t", "127.0.0.1", "395184", "1")
check("rpcinfo finds the abort channel ready", status == 0 and "ready and waiting" in said, said)
status, said = ran("rpcinfo", "-t", "127.0.0.1", "395183", "2")
check("rpcinfo is told which version there is", status != 0 and "low version = 1, high version = 1" in said, said)
status, said = ran("rpcinfo", "-u", "127.0.0.1", "100000", "2")
check("rpcinfo finds the portmapper by UDP", status == 0 and "ready and waiting" in said, said)

# The C library's tool.
status, said = ran("lxi", "scpi", "-a", "127.0.0.1", "*IDN?")
check("lxi scpi gets the identity", status == 0 and said == "Eyelevel,first,0,1.0\n", said)
status, said = ran("lxi", "benchmark", "-a", "127.0.0.1", "-c", "200")
check("lxi benchmark asks 200 times", status == 0 and "requests/second" in said, said)

# Our own program, as a user types it.
status, said = ran(sys.argv[2], "ask", "TCPIP::127.0.0.1", "*IDN?")
check("eyelevel ask gets the identity", status == 0 and said == "Eyelevel,first,0,1.0\n", said)
status, said = ran(sys.argv[2], "ask", "TCPIP::127.0.0.1::inst7::INSTR", "*IDN?")
check("eyelevel ask tells a device that is not there", status == 3 and "VXI-11 error 3" in said, said)

# The Python library.
manager = pyvisa.ResourceManager("@py")
device = manager.open_resource("TCPIP::127.0.0.1::inst0::INSTR", timeout=20000)
other = manager.open_resource("TCPIP::127.0.0.1::inst1::INSTR", timeout=20000)
check("identity of the first device", device.query("*IDN?") == "Eyelevel,first,0,1.0\n")
check("identity of the second device", other.query("*IDN?") == "Eyelevel,second,0,1.0\n")
for size in (0, 1, 3, 1000, 4096, 65536, 3_000_001):
    device.write(f"BLOC? {size}")
    got = device.read_raw()
    check(f"a block of {size} bytes", got == b"#%d%d" % (len(str(size)), size) + bytes(i % 251 for i in range(size)) + b"\n", len(got))
# This client gives END only with a part of 1024 bytes or less; NL ends the longer ones.
for size in (10, 1023, 1024, 1_048_575, 1_048_576, 2_500_000):
    device.write("X" * size, termination="\n")
    check(f"a message of {size} bytes", device.query("SIZE?") == f"{size}\n")
device.write("*IDN?")
check("an answer that waits is in the status byte", device.read_stb() & 0x10 == 0x10)
check("and is read then", device.read() == "Eyelevel,first,0,1.0\n")
check("and no longer in the status byte", device.read_stb() & 0x10 == 0)
device.assert_trigger()
device.clear()
check("trigger and clear reached the device", device.query("GOT?") == "trigger clear \n")
device.timeout = 200
try:
    device.query("SLOW? 600")
    check("a slow answer times out", False)
except pyvisa.VisaIOError as error:
    check("a slow answer times out", error.error_code == pyvisa.constants.StatusCode.error_timeout, error)
device.timeout = 20000
device.clear()
check("after a clear the next answer is the right one", device.query("*IDN?") == "Eyelevel,first,0,1.0\n")
rival = manager.open_resource("TCPIP::127.0.0.1::inst0::INSTR", timeout=2000)
device.lock_excl()
try:
    rival.write("*IDN?")
    check("a lock shuts the rival out", False)
except pyvisa.VisaIOError as error:
    # This client calls every error of a write an I/O error.
    told = (pyvisa.constants.StatusCode.error_resource_locked, pyvisa.constants.StatusCode.error_io)
    check("a lock shuts the rival out", error.error_code in told, error)
device.unlock()
check("and lets it in after its release", rival.query("*IDN?") == "Eyelevel,first,0,1.0\n")
for session in (device, other, rival):
    session.close()

server.stdin.close()
check("the server ends", server.wait(20) == 0)
sys.exit(1 if failures else 0)
