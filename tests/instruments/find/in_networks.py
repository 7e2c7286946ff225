# SPDX-License-Identifier: Apache-2.0
"""Discovery in networks of its own: an empty one, loopback alone, and a cable between two interfaces. What our responder
announces is found by our browser and by a multicast DNS library that nobody here wrote (Debian's python3-zeroconf); what
that library announces is found by our browser; a VXI-11 instrument that announces nothing is found by broadcast.

Called as in_networks.py EYELEVEL ANNOUNCER. Starts itself again in a new network namespace for each part. Exit status 77
(skipped, with the reason) where no namespace can be made or the library is missing.
"""
import json
import os
import pathlib
import socket
import struct
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from program import PROGRAM, as_json, expect, eyelevel, finish  # noqa: E402

ANNOUNCER = sys.argv[2]
PARTS = ("empty", "no_interface", "loopback", "cable")
POINTER_LOOP = b"\0\0\x84\0\0\1\0\0\0\0\0\0\xc0\x0c\0\x0c\0\1"  # a name that is a pointer to itself
QUIET_LIMIT_S = 3  # what a search of a quiet net may take in all


def ip(*words):
    subprocess.run(["ip", *words], check=True)


def found(*arguments):
    begun = time.monotonic()
    process = eyelevel("find", "--json", *arguments)
    seconds = time.monotonic() - begun
    expect("find exits with 0 and writes no message", process.returncode == 0 and not process.stderr,
           f"{process.returncode} {process.stderr}")
    return as_json(process), seconds


class Announcer:
    def __init__(self, *instruments):
        self.process = subprocess.Popen([ANNOUNCER, *instruments], stdout=subprocess.PIPE, text=True)
        self.ports = json.loads(self.process.stdout.readline())

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.process.terminate()
        ended = self.process.wait(20)
        expect("the announcer ended well", ended == 0, ended)


def by_name(seen, name):
    return next((one for one in seen["instruments"] if one["name"] == name), {})


def loop_packets(address, stop):
    """Bytes that are no message and pointer loops to everybody, all the time."""
    sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(address))
    while not stop.wait(0.02):
        for packet in (POINTER_LOOP, b"", b"\xff" * 4000, POINTER_LOOP[:15]):
            sender.sendto(packet, ("224.0.0.251", 5353))
    sender.close()


class Hostile:
    def __init__(self, address):
        self.stop = threading.Event()
        self.thread = threading.Thread(target=loop_packets, args=(address, self.stop))

    def __enter__(self):
        self.thread.start()

    def __exit__(self, *_):
        self.stop.set()
        self.thread.join()


def seen_by_library(types, interface, count, seconds):
    """{(type, name): (port, addresses, keys)} as python3-zeroconf has it, once it has seen `count` of them. It does not
    resolve names with control characters in them."""
    from zeroconf import ServiceBrowser, ServiceListener, Zeroconf

    class Listener(ServiceListener):
        def __init__(self):
            self.names, self.changed = set(), threading.Condition()

        def add_service(self, _zc, kind, name):
            with self.changed:
                self.names.add((kind, name))
                self.changed.notify_all()

        def update_service(self, *_):
            pass

        def remove_service(self, *_):
            pass

    library = Zeroconf(interfaces=[interface])
    listener = Listener()
    ServiceBrowser(library, types, listener)
    with listener.changed:
        listener.changed.wait_for(lambda: len(listener.names) >= count, timeout=seconds)
    seen = {}
    for kind, name in listener.names:
        info = name.isprintable() and library.get_service_info(kind, name, 3000)
        if info:
            seen[kind, name] = (info.port, info.parsed_addresses(), info.properties)
    library.close()
    return seen


def empty():
    """An interface that is up, nobody else on it."""
    ip("link", "set", "lo", "up")
    seen, seconds = found()
    expect("an empty net has no instruments", seen["instruments"] == [], seen)
    expect("that no network is plugged in is told", any(one["what"] == "network" for one in seen["unusable"]), seen)
    expect(f"an empty net answers within {QUIET_LIMIT_S} s", seconds < QUIET_LIMIT_S, seconds)
    told = eyelevel("find", "--within", "300 ms")
    expect("people are told so, with where was looked and what to try", told.returncode == 0 and
           "No instrument found" in told.stdout and "300 ms on lo" in told.stdout and "*IDN?" in told.stdout, told.stdout)
    wrong = eyelevel("find", "--within", "3 V")
    expect("a time that is none is a wrong input", wrong.returncode == 2 and "3 V" in wrong.stderr, wrong.stderr)
    endless = eyelevel("find", "--within", "0")
    expect("no time at all is a wrong input", endless.returncode == 2 and "above 0" in endless.stderr, endless.stderr)


def no_interface():
    seen, seconds = found("--within", "0.3")
    expect("without any interface find still ends, and says so", seen["instruments"] == [] and seen["searched"] == [] and
           seen["unusable"][0]["what"] == "network" and seconds < QUIET_LIMIT_S, seen)


def loopback():
    ip("link", "set", "lo", "up")
    ip("link", "set", "lo", "multicast", "on")
    ip("route", "add", "224.0.0.0/4", "dev", "lo")
    with Announcer("Bench scope=Lanternfield,Scope,S1,1.0", "Meter\\e[2J=Lanternfield,Met\\e[31mer,S2,1.0", "Silent=") as announcer:
        ports = announcer.ports
        types = ["_scpi-raw._tcp.local.", "_lxi._tcp.local."]
        theirs = seen_by_library(types, "127.0.0.1", 6, 10)
        scope = theirs.get((types[0], "Bench scope." + types[0]), (0, [], {}))
        expect("the library finds what our responder announces: port, address, TXT", scope[0] == ports[0] and
               "127.0.0.1" in scope[1] and scope[2].get(b"Manufacturer") == b"Lanternfield" and
               scope[2].get(b"txtvers") == b"1", theirs)
        expect("the library finds both types of both whose names it takes", len(theirs) == 4, theirs.keys())
        seen, _ = found("--within", "1 s")
        ours = by_name(seen, "Bench scope")
        expect("our browser finds it, with the identity that *IDN? gave",
               ours.get("resources") == [f"TCPIP0::127.0.0.1::{ports[0]}::SOCKET"] and
               ours.get("identity") == "Lanternfield,Scope,S1,1.0" and ours.get("serial_number") == "S1", seen)
        expect("control characters of names and identities are escaped",
               by_name(seen, "Meter\\x1b[2J").get("identity") == "Lanternfield,Met\\x1b[31mer,S2,1.0", seen)
        expect("one that is silent is told, with the reason and what to try",
               any("Silent" in one["what"] and "no answer to *IDN?" in one["why"] and one["try"] for one in seen["unusable"]) and
               not by_name(seen, "Silent"), seen)
        table = eyelevel("find", "--within", "0.5")
        expect("the table has no control characters", "Bench scope" in table.stdout and "\x1b" not in table.stdout, table.stdout)
        with Hostile("127.0.0.1"):
            seen, _ = found("--within", "1 s")
            expect("pointer loops and noise harm nobody: the scope is found among them", bool(by_name(seen, "Bench scope")), seen)
            expect("who sent them is told", any("compression pointer" in one["why"] and one["what"] == "127.0.0.1"
                                                for one in seen["unusable"]), seen)
    seen, _ = found("--within", "0.5")
    expect("what ended is found no more", seen["instruments"] == [], seen)


FAR = "192.0.2.2"        # announces itself
SILENT = "192.0.2.3"     # only answers the portmapper's broadcast
BEHIND = "198.51.100.2"  # the same, on another cable


def library_announces():
    """The instrument as a library that nobody here wrote announces it."""
    from zeroconf import ServiceInfo, Zeroconf
    library = Zeroconf(interfaces=[FAR])
    for kind, port in (("_scpi-raw._tcp.local.", 5025), ("_hislip._tcp.local.", 4880), ("_vxi-11._tcp.local.", 111)):
        library.register_service(ServiceInfo(
            kind, "Foreign." + kind, port, addresses=[socket.inet_aton(FAR)], server="foreign.local.",
            properties={"txtvers": "1", "Manufacturer": "Lanternfield", "Model": "F", "SerialNumber": "F1", "FirmwareVersion": "2"}))
    return library


def far_end():
    """The other ends of the cables, in a network of their own: a library that announces, a portmapper that knows the core
    channel of VXI-11 at port 1024 (RFC 1833). Lines of standard input say when to begin and to end."""
    print("here", flush=True)
    sys.stdin.readline()
    ip("link", "set", "lo", "up")
    for name, address in (("right", FAR), ("right", SILENT), ("end", BEHIND)):
        ip("address", "add", address + "/24", "brd", "+", "dev", name)
        ip("link", "set", name, "up")
    library = library_announces()
    server = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    server.bind(("0.0.0.0", 111))
    answers = {}
    for address in (SILENT, BEHIND):
        answers[address[:3]] = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        answers[address[:3]].bind((address, 0))
    calls = []

    def serve():
        while True:
            call, asker = server.recvfrom(1000)
            if not call:
                return
            words = struct.unpack(">14I", call)
            calls.append([words[3], words[5], *words[10:13], asker[0]])
            answers[asker[0][:3]].sendto(struct.pack(">7I", words[0], 1, 0, 0, 0, 0, 1024), asker)

    serving = threading.Thread(target=serve)
    serving.start()
    print("serving", flush=True)
    sys.stdin.readline()
    socket.socket(socket.AF_INET, socket.SOCK_DGRAM).sendto(b"", ("127.0.0.1", 111))
    serving.join()
    library.close()
    print(json.dumps(calls), flush=True)


def cable():
    """Two cables to another network, where one instrument announces itself and two answer the broadcast only."""
    far = subprocess.Popen(["unshare", "-n", sys.executable, __file__, PROGRAM, ANNOUNCER, "far_end"], text=True,
                           stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    far.stdout.readline()
    ip("link", "set", "lo", "up")
    for near, end, address in (("left", "right", "192.0.2.1/24"), ("other", "end", "198.51.100.1/24")):
        ip("link", "add", near, "type", "veth", "peer", "name", end)
        ip("link", "set", end, "netns", str(far.pid))
        ip("address", "add", address, "brd", "+", "dev", near)
        ip("link", "set", near, "up")
    far.stdin.write("begin\n")
    far.stdin.flush()
    far.stdout.readline()
    seen, seconds = found()
    calls = json.loads(far.communicate("end\n", timeout=20)[0])
    expect("what the library announces is one instrument, best way first, identity from its TXT",
           by_name(seen, "Foreign").get("resources") == [f"TCPIP0::{FAR}::hislip0::INSTR", f"TCPIP0::{FAR}::inst0::INSTR",
                                                         f"TCPIP0::{FAR}::5025::SOCKET"] and
           by_name(seen, "Foreign").get("identity") == "Lanternfield,F,F1,2", seen)
    expect("every interface was searched", set(seen["searched"]) == {"lo", "left", "other"}, seen)
    expect("every interface asked by broadcast", {call[5] for call in calls} == {"192.0.2.1", "198.51.100.1"}, calls)
    expect("for GETPORT of the core channel by TCP", all(call[:5] == [100000, 3, 395183, 1, 6] for call in calls), calls)
    for address in (SILENT, BEHIND):
        told = [one for one in seen["instruments"] + seen["unusable"]
                if f"TCPIP0::{address}::inst0::INSTR" in json.dumps(one)]
        expect(f"{address}, which only answers the broadcast, is told once", len(told) == 1, seen)
    expect("asking what does not answer is bounded", seconds < 2 * QUIET_LIMIT_S, seconds)


def can_have_networks():
    made = subprocess.run(["unshare", "-n", "ip", "link", "set", "lo", "up"], capture_output=True, text=True)
    return made.returncode == 0, made.stderr


def main():
    if len(sys.argv) > 3:
        globals()[sys.argv[3]]()
        finish()
    good, why = can_have_networks()
    if not good:
        print(f"skipped: no network namespace can be made here: {why}")
        sys.exit(77)
    try:
        import zeroconf  # noqa: F401
    except ImportError as missing:
        print(f"skipped: {missing}; install python3-zeroconf")
        sys.exit(77)
    for part in PARTS:
        print(f"{part}:", flush=True)
        done = subprocess.run(["unshare", "-n", sys.executable, __file__, PROGRAM, ANNOUNCER, part], env=os.environ, timeout=60)
        expect(f"part {part}", done.returncode == 0, done.returncode)
    finish()


main()
