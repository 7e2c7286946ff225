#!/usr/bin/python3
# SPDX-License-Identifier: Apache-2.0
"""The same queries as ours by PyVISA and PyVISA-py, which nobody here wrote, on the same server: RESOURCE QUERIES BLOCKS
BYTES [PORT of the portmapper, which it looks for at 111 otherwise]. Prints seconds for all queries and seconds for all blocks, each the shortest of five rounds."""
import sys
import time

import pyvisa
from pyvisa_py.protocols import rpc

resource, queries, blocks, size = sys.argv[1], *map(int, sys.argv[2:5])
if len(sys.argv) > 5:
    rpc.PMAP_PORT = int(sys.argv[5])
link = pyvisa.ResourceManager("@py").open_resource(resource, write_termination="\n", read_termination="\n", timeout=20000)
header = f"#{len(str(size))}{size}"


def query():
    answer = link.query("q")
    assert answer == "1.234567E+00", answer


def block():
    link.write("b")
    answer = link.read_bytes(len(header) + size + 1, chunk_size=1 << 20)
    assert answer.startswith(header.encode()) and answer.endswith(b"\x7f\n")


def shortest(work, times):
    best = float("inf")
    for _ in range(5):
        begun = time.perf_counter()
        for _ in range(times):
            work()
        best = min(best, time.perf_counter() - begun)
    return best


print(shortest(query, queries), shortest(block, blocks))
