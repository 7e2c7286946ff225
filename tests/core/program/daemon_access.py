# SPDX-License-Identifier: Apache-2.0
"""Who may use a daemon that the network sees, asked by clients that nobody here wrote: openssl's s_client, Python's ssl and
http.client, Debian's websockets."""
import asyncio
import http.client
import json
import pathlib
import ssl
import subprocess
import sys

import websockets

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, PROGRAM, Daemon  # noqa: E402
from program import TOP, expect, finish, folder  # noqa: E402

PASSWORD = "four words of mine"
ADMINISTRATOR = "look, operate, change, administer"


def user(state, *arguments, password=None):
    return subprocess.run([PROGRAM, "user", *arguments, "--state", str(state)], capture_output=True, text=True, cwd=TOP, timeout=60,
                          input=None if password is None else password + "\n")


def begun(state, *more):
    return subprocess.run([PROGRAM, "--bench", "examples/bench.yaml", "--models", "examples/models", "--state", str(state), *more],
                          capture_output=True, text=True, cwd=TOP, timeout=60)


def users_by_hand(state):
    done = begun(state, "--listen", "0.0.0.0:0")
    expect("without a user the network is not served, and what to do is said",
           done.returncode == 2 and "eyeleveld user add" in done.stderr, done.stderr)
    expect("a weak password is refused", user(state, "add", "ada", password="short").returncode == 2)
    expect("no password is refused", user(state, "add", "ada", password=None).returncode == 2)
    expect("an unknown right is refused", "some of look" in user(state, "add", "ada", "--rights", "all", password=PASSWORD).stderr)
    expect("a user is added", user(state, "add", "ada", password=PASSWORD).stdout == "ada may look, operate\n")
    expect("nobody who may administer: still not served", begun(state, "--listen", "0.0.0.0:0").returncode == 2)
    expect("one who may", user(state, "add", "bo", "--rights", ADMINISTRATOR, password=PASSWORD).returncode == 0)
    listed = user(state, "list").stdout.splitlines()
    expect("both are listed", [line.split()[0] for line in listed] == ["ada", "bo"], listed)
    expect("the last one is not removed", "nobody would be left" in user(state, "remove", "bo").stderr)
    done = begun(state, "--tls-certificate", "README.md")
    expect("a certificate without its key is refused", done.returncode == 2 and "without its key" in done.stderr, done.stderr)
    done = begun(state, "--tls-certificate", "README.md", "--tls-key", "README.md")
    expect("a file that is no certificate is refused", done.returncode == 2 and "cannot be used" in done.stderr, done.stderr)


class Client:
    """Trusts the certificate that the daemon made."""

    def __init__(self, daemon, state):
        self.daemon = daemon
        self.context = ssl.create_default_context(cafile=str(pathlib.Path(state) / "tls.pem"))
        self.cookies = {}

    def ask(self, method, path, body=None, headers=None):
        connection = http.client.HTTPSConnection("localhost", self.daemon.port, timeout=20, context=self.context)
        sent = {"Content-Type": "application/json", **(headers or {})}
        if self.cookies:
            sent["Cookie"] = "; ".join(f"{k}={v}" for k, v in self.cookies.items())
        connection.request(method, path, None if body is None else json.dumps(body), sent)
        answer = connection.getresponse()
        data = answer.read()
        for cookie in answer.headers.get_all("Set-Cookie") or []:
            name, value = cookie.split(";")[0].split("=", 1)
            self.cookies[name] = value
            expect("a cookie is for this site alone, and no script reads it",
                   all(word in cookie for word in ("HttpOnly", "SameSite=Strict", "Secure", "Path=/")), cookie)
        connection.close()
        return answer.status, json.loads(data) if data and "json" in answer.getheader("Content-Type") else data

    def sign_in(self, name, password=PASSWORD):
        return self.ask("POST", "/api/1/session", {"name": name, "password": password})[0]


def s_client(port, *arguments):
    return subprocess.run(["openssl", "s_client", "-connect", f"localhost:{port}", "-servername", "localhost", *arguments],
                          capture_output=True, text=True, timeout=20, input="")


async def watched(url, context, headers):
    async with websockets.connect(url, ssl=context, extra_headers=headers) as socket:
        return json.loads(await socket.recv())


def served_over_tls(state):
    daemon = Daemon(state, listen="0.0.0.0:0")
    expect("it serves https and tells its fingerprint", daemon.url.startswith("https://") and len(daemon.line["fingerprint"]) == 95,
           daemon.line)
    shown = s_client(daemon.port, "-CAfile", str(pathlib.Path(state) / "tls.pem"), "-verify_return_error")
    expect("s_client agrees", "Verify return code: 0 (ok)" in shown.stdout and "TLSv1.3" in shown.stdout, shown.stdout + shown.stderr)
    for old in ("-tls1", "-tls1_1"):
        refused = s_client(daemon.port, old, "-cipher", "ALL:@SECLEVEL=0")
        expect(f"{old} is refused", refused.returncode != 0 and "Cipher is (NONE)" in refused.stdout, refused.stdout)
    plain = http.client.HTTPConnection("localhost", daemon.port, timeout=20)
    plain.request("GET", "/api/1")
    answer = plain.getresponse()
    expect("http is told to be https", answer.status == 400 and b"https://" in answer.read())

    nobody = Client(daemon, state)
    expect("nobody is told anything", nobody.ask("GET", "/api/1/benches")[0] == 401)
    expect("but the page", nobody.ask("GET", "/")[0] == 200)
    ada, bo = Client(daemon, state), Client(daemon, state)
    expect("both sign in", (ada.sign_in("ada"), bo.sign_in("bo")) == (200, 200))
    expect("ada may not administer", ada.ask("GET", "/api/1/users")[0] == 403)
    job = {"bench": BENCH, "sequence": "ready/pickup-level.yaml", "serial": "LF2-00417", "model": "lf-2.yaml"}
    status, made = ada.ask("POST", "/api/1/jobs", {**job, "by": "somebody else"})
    expect("ada asks for a job under her own name", status == 201 and made["asked_by"] == "ada", made)
    while not (question := ada.ask("GET", f"/api/1/benches/{BENCH}")[1]["question"]):
        pass
    start = {"question": question["number"], "answer": "done"}
    path = f"/api/1/benches/{BENCH}/answer"
    expect("from afar nobody lights a laser", (ada.ask("POST", path, start)[0], bo.ask("POST", path, start)[0]) == (403, 403))
    status, seat = bo.ask("POST", "/api/1/seats", {"bench": BENCH, "name": "tablet"})
    ada.cookies.update({name: value for name, value in bo.cookies.items() if "seat" in name})
    expect("at the bench she does", status == 201 and ada.ask("POST", path, start)[0] == 204)
    expect("a bench is stopped from anywhere", ada.ask("POST", f"/api/1/benches/{BENCH}/stop")[0] == 204)

    status, token = ada.ask("POST", "/api/1/tokens", {"name": "figures", "rights": ["look"], "days": 1})
    bearer = {"Authorization": "Bearer " + token["token"]}
    expect("a token looks", nobody.ask("GET", "/metrics", headers=bearer)[0] == 200)
    expect("a token does no more", nobody.ask("POST", "/api/1/jobs", job, bearer)[0] == 403)
    feed = f"wss://localhost:{daemon.port}/api/1/benches/{BENCH}/feed"
    expect("a feed over TLS with a token", asyncio.run(watched(feed, nobody.context, bearer))["kind"] == "bench")
    try:
        asyncio.run(watched(feed, nobody.context, {}))
        expect("a feed without one is refused", False)
    except websockets.InvalidStatusCode as refused:
        expect("a feed without one is refused", refused.status_code == 401)

    statuses = [nobody.sign_in("ada", "a wrong password") for _ in range(12)]  # on a slow machine the first waits are over by then
    expect("guessing takes longer and longer", statuses[:5] == [401] * 5 and 429 in statuses[5:], statuses)
    expect("who is signed in already is not hindered", ada.ask("GET", "/api/1/benches")[0] == 200)
    audit = bo.ask("GET", "/api/1/audit?at_most=100")[1]["audit"]
    expect("who did what stands in the audit", {"ada", "bo", ""} == {entry["who"] for entry in audit}, audit)
    expect("without any secret", PASSWORD not in json.dumps(audit) and "a wrong password" not in json.dumps(audit))
    expect("the daemon ends well", daemon.end()[0] == 0)
    return ada


def begun_anew(state, ada):
    held = pathlib.Path(state, "tls.pem").read_text()
    expect("only its owner reads what the daemon keeps of secrets",
           [oct(pathlib.Path(state, name).stat().st_mode & 0o777) for name in ("tls.pem", "access.db")] == ["0o600", "0o600"])
    daemon = Daemon(state, listen="0.0.0.0:0")
    expect("its certificate stays", pathlib.Path(state, "tls.pem").read_text() == held)
    # The port of a test is another one each time, and the cookie is named by it.
    ada.cookies = {name.rsplit("-", 1)[0] + f"-{daemon.port}": value for name, value in ada.cookies.items()}
    ada.daemon = daemon
    expect("a session outlasts the daemon", ada.ask("GET", "/api/1/session")[1]["user"] == "ada")
    refused = user(state, "list")
    expect("users of a running daemon are its own affair", refused.returncode == 2 and "at its page" in refused.stderr, refused.stderr)
    daemon.end()
    expect("a new password is given", user(state, "password", "ada", password="other words of mine").returncode == 0)
    daemon = Daemon(state, "--require-login")
    expect("login can be wanted at a loopback address, too", daemon.ask("GET", "/api/1/benches")[0] == 401)
    expect("where it is not over TLS", daemon.url.startswith("http://"))
    expect("the old password is none any more",
           daemon.ask("POST", "/api/1/session", {"name": "ada", "password": PASSWORD})[0] == 401)
    expect("the new one is", daemon.ask("POST", "/api/1/session", {"name": "ada", "password": "other words of mine"})[0] == 200)
    daemon.end()


with folder() as state:
    users_by_hand(state)
    ada = served_over_tls(state)
    begun_anew(state, ada)
finish()
