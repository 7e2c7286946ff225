# SPDX-License-Identifier: Apache-2.0
"""More than two hundred requests that nobody means well with, byte by byte, to a daemon where everybody signs in and to one where nobody
does: no crash, nothing that is not theirs, no 5xx, no leak. Where a document says what must come of it, it stands beside."""
import pathlib
import socket
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, PROGRAM, Daemon  # noqa: E402
from program import TOP, expect, finish, folder  # noqa: E402

PASSWORD = "four words of mine"
OWN_HOST = "Host: 127.0.0.1\r\n"
CLOSE = "Connection: close\r\n\r\n"
# What stands in files that no request may reach.
SECRETS = [b"root:x:0", b"CREATE TABLE", b"PRIVATE KEY", b"argon2id", b"SQLite format", PASSWORD.encode()]


def get(target, more="", host=OWN_HOST, method="GET", version="HTTP/1.1"):
    return f"{method} {target} {version}\r\n{host}{more}{CLOSE}".encode("utf-8", "surrogateescape")


def post(target, body, more="", kind="application/json", method="POST", length=None):
    data = body if isinstance(body, bytes) else body.encode()
    head = f"{method} {target} HTTP/1.1\r\n{OWN_HOST}{more}" + (f"Content-Type: {kind}\r\n" if kind else "")
    return head.encode() + f"Content-Length: {len(data) if length is None else length}\r\n{CLOSE}".encode() + data


def paths():
    up = ["..", "%2e%2e", "%2E%2e", ".%2e", "..%00", "%252e%252e", "..;", "%c0%ae%c0%ae", "%uff0e%uff0e", "....", "..%5c", "..\\"]
    for part in up:
        for tail in ("etc/passwd", "records.db", "access.db"):
            yield get(f"/{part}/{part}/{part}/{part}/{part}/{part}/{tail}")
            yield get(f"/api/1/sequences/sentences?file={part}/{part}/{part}/{part}/{part}/{tail}")
    for file in ("/etc/passwd", "file:///etc/passwd", "ready/../../access.db", "ready%2f..%2f..%2faccess.db", "\\\\host\\share", "/dev/zero",
                 "/proc/self/environ", "%00", "ready/pickup-level.yaml%00.txt", "%", "%zz", "~root/.profile", "-", ".", "a" * 5000):
        yield get(f"/api/1/sequences/sentences?file={file}")
    for target in ("//etc/passwd", "/./index.html", "/index.html/..", "/api/1/../../etc/passwd", "/api//1/benches", "*", "http://elsewhere.example/",
                   "elsewhere.example:443", "", "?", "#", "/%", "/%0d%0aSet-Cookie:%20a=b", "/\x01", "/" + "a/" * 3000, "/api/1/runs/%2e%2e/events"):
        yield get(target)


def methods():
    for method in ("TRACE", "CONNECT", "OPTIONS", "PUT", "PROPFIND", "get", "GET\t", "G\x00T", "", "A" * 3000, "DELETE", "PATCH", "POST"):
        yield get("/api/1/benches", method=method)
        yield get(f"/api/1/benches/{BENCH}/none", method=method)
    for version in ("HTTP/0.9", "HTTP/2.0", "HTTP/1.2", "HTTP/1.", "HTTP", "http/1.1", "ICY"):
        yield get("/api/1/nothing", version=version)


def heads():
    """RFC 9112, 3.2, 5.1, 6.1 and 6.3: what could be read in two ways, or is none."""
    for host in ("", OWN_HOST + "Host: elsewhere.example\r\n", "Host: elsewhere.example\r\n", "Host: 127.0.0.1.elsewhere.example\r\n",
                 "Host: localhost.\x00\r\n", "Host: user@127.0.0.1\r\n", "Host: [::2]\r\n", "Host:\r\n", "Host : 127.0.0.1\r\n"):
        yield get("/api/1/benches", host=host)
    for more in ("No colon here\r\n", ": no name\r\n", "Bad name: x\r\n", "X: a\r\n folded\r\n", "X: \x00\r\n", "X: a\rb\r\n",
                 "Content-Length: -1\r\n", "Content-Length: 99999999999999999999\r\n", "Content-Length: 0x10\r\n", "Content-Length: 1, 2\r\n",
                 "Transfer-Encoding: chunked\r\nContent-Length: 5\r\n", "Transfer-Encoding: gzip, chunked, chunked\r\n",
                 "Transfer-Encoding: \x0bchunked\r\n", "Cookie: " + "a=b; " * 4000 + "\r\n", "X: y\r\n" * 3000, "X-Forwarded-For: 127.0.0.1\r\n" * 900):
        yield get("/api/1/nothing", more)
    smuggled = "0\r\n\r\nGET /api/1/benches HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    for more in ("Transfer-Encoding: chunked\r\n", "Transfer-Encoding:chunked\r\nTransfer-Encoding: identity\r\n", "Transfer-Encoding : chunked\r\n"):
        yield post("/api/1/jobs", smuggled, more)


def foreign_pages():
    """What a page of another site could make a browser send."""
    for origin in ("http://elsewhere.example", "null", "https://127.0.0.1", "http://127.0.0.1.elsewhere.example", "file://", "http://127.0.0.1:1"):
        for target in ("/api/1/jobs", f"/api/1/benches/{BENCH}/stop", "/api/1/users"):
            yield post(target, "{}", f"Origin: {origin}\r\n")
        yield get(f"/api/1/benches/{BENCH}/feed", f"Origin: {origin}\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\n"
                                                  "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n")
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/jsonp", ""):
        yield post("/api/1/jobs", '{"bench": "' + BENCH + '", "sequence": "ready/pickup-level.yaml"}', kind=kind)


def bodies():
    for body in ("", "null", "[]", "1", '"', "{", "{}", '{"a": 1}', '{"bench": null}', '{"bench": 1}', "{" * 5000, "[" * 100000, '{"a":' * 5000, "\x00",
                 b"\xff\xfe{}", b'{"bench": "\xed\xa0\x80"}', '{"bench": "\\ud800"}', '{"bench": "x", "bench": "y"}', "NaN", "1e999",
                 '{"priority": 99999999999999999999}', '{"priority": 1e400}', '{"' + "k" * 100000 + '": 1}', '{"bench": "' + "b" * 500000 + '"}'):
        yield post("/api/1/jobs", body)
    for sequence in ("../access.db", "/etc/passwd", "ready/../../../etc/passwd", "ready", "", ".", "ready/pickup-level.yaml\\u0000", "none.yaml",
                     "x\\ny", "C:\\\\x", "ready/pickup-level.yaml/"):
        yield post("/api/1/jobs", f'{{"bench": "{BENCH}", "sequence": "{sequence}"}}')
        yield post("/api/1/jobs", f'{{"bench": "{BENCH}", "sequence": "ready/pickup-level.yaml", "model": "../{sequence}"}}')
    for text in ("'; DROP TABLE job; --", "<script>alert(1)</script>", "\\u202e", "%s%n", "${jndi:ldap://x}", "{{7*7}}"):
        yield post("/api/1/jobs", f'{{"bench": "{text}", "sequence": "{text}"}}')
        yield get(f"/api/1/jobs?bench={text.replace(' ', '%20')}&state={text.replace(' ', '%20')}")
        yield get(f"/api/1/runs/{text.replace(' ', '%20').replace('/', '%2f')}")
    yield post("/api/1/jobs", "x", length=2_000_000)
    yield post("/api/1/jobs", "x" * 1_100_000)


def numbers():
    for number in ("-1", "1.5", "0x1", "99999999999999999999", "1e3", "%20", "", "NaN", "1;2", "1%00"):
        yield get(f"/api/1/jobs/{number or '%20'}")
        yield get(f"/api/1/runs?at_most={number or 'x'}")
        yield get(f"/api/1/runs/2030-01-07-1/events?after={number or 'x'}")
        yield get(f"/api/1/runs/2030-01-07-1/captures/{number or 'x'}.npy")


def strangers():
    """Who claims to be somebody."""
    for header in ("Authorization: Bearer ", "Authorization: Bearer x", "Authorization: Bearer " + "x" * 5000, "Authorization: Basic YWRhOmFkYQ==",
                   "Authorization: bearer null", "Cookie: eyelevel-session-0=x", "Cookie: ; ; =; a", "Cookie: eyelevel-session-8470=../../x",
                   "Eyelevel-Seat: x", "Eyelevel-Seat: ' OR 1=1", "X-User: admin", "X-Original-URL: /api/1/users"):
        yield get("/api/1/users", header + "\r\n")
    for body in ('{"name": "ada", "password": ""}', '{"name": "ada\\u0000", "password": "x"}', '{"name": ["ada"], "password": {"$ne": ""}}',
                 '{"name": "' + "a" * 4097 + '", "password": "x"}', '{"name": "\' OR \'1\'=\'1", "password": "x"}'):
        yield post("/api/1/session", body)


def not_http():
    for data in (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"\x00" * 1000, b"\xff" * 70000, b"SSH-2.0-x\r\n",
                 b"EHLO x\r\n", b"*IDN?\n", b"\r\n" * 20000, b"GET /\r\n\r\n"):
        yield data


LISTS = [paths, methods, heads, foreign_pages, bodies, numbers, strangers, not_http]


def said(daemon, data):
    with socket.create_connection(("127.0.0.1", daemon.port), timeout=20) as stream:
        answer = b""
        try:
            stream.sendall(data)
            stream.shutdown(socket.SHUT_WR)
            while part := stream.recv(65536):
                answer += part
        except OSError:
            pass  # cut in the middle of it, which is an answer
        return answer


def resident_kb(daemon):
    status = pathlib.Path(f"/proc/{daemon.process.pid}/status").read_text()
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1])


def harmless(data, answer, is_open):
    """Whether this answer is one that may be given."""
    if any(secret in answer for secret in SECRETS):
        return False
    if not answer:
        return True
    status = int(answer.split(b" ", 2)[1]) if answer.startswith(b"HTTP/1.1 ") else 0
    if 400 <= status < 500:
        return True
    # What anybody may see: an answer to GET where nobody signs in, the page, who is signed in. Nothing is ever changed.
    is_get = data.startswith((b"GET ", b"OPTIONS"))
    return status == 200 and is_get and (is_open or b"text/html" in answer)


def met_by(state, is_open):
    daemon = Daemon(state, *([] if is_open else ["--require-login"]))
    count, wrong = 0, []
    for requests in LISTS:
        for data in requests():
            answer = said(daemon, data)
            count += 1
            if not harmless(data, answer, is_open):
                wrong.append((data[:120], answer[:200]))
    expect(f"{count} hostile requests, none with more than it may have ({'open' if is_open else 'closed'})", count >= 200 and not wrong, wrong[:5])
    before = resident_kb(daemon)
    for requests in LISTS:
        for data in requests():
            said(daemon, data)
    grown = resident_kb(daemon) - before
    # The address sanitizer keeps what was freed for a while, and finds what is not freed by itself.
    expect("the same again leaves nothing behind", grown < 4000 or "asan" in PROGRAM, f"{grown} kB")
    if is_open:
        expect("no job was made", daemon.get("/api/1/jobs")["jobs"] == [], daemon.get("/api/1/jobs"))
    expect("and the daemon ends well", daemon.end()[0] == 0)


with folder() as state:
    subprocess.run([PROGRAM, "user", "add", "ada", "--rights", "look,operate,change,administer", "--state", state], input=PASSWORD + "\n", text=True,
                   check=True, cwd=TOP, capture_output=True)
    met_by(state, is_open=False)
with folder() as state:
    met_by(state, is_open=True)
finish()
