# SPDX-License-Identifier: Apache-2.0
"""`eyelevel run` and `eyelevel records` at a running daemon: the same lines, JSON and exit status as without one; a stop; what
is refused and how that is told; the daemon that owns a bench is found by itself."""
import http.client
import http.server
import json
import os
import pathlib
import signal
import socket
import ssl
import subprocess
import sys
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "support"))
from daemon import BENCH, PROGRAM as EYELEVELD, Daemon  # noqa: E402
from program import PROGRAM, TOP, Sim, as_json, expect, eyelevel, finish, folder  # noqa: E402

LEVEL = "ready/pickup-level.yaml"
QUESTIONS = """sequence: questions
about: Two questions

steps:
  - prompt: Is the lens clean?
    answer: yes or no
    name it: clean
    within: 1 min
  - prompt: Close the cover
    within: 1 min
"""
QUIET = "sequence: quiet\nabout: Nothing to be asked\nsteps:\n  - note: x\n"


def sequences_in(at):
    folder_of = at / "sequences"
    folder_of.mkdir()
    (folder_of / "questions.yaml").write_text(QUESTIONS)
    (folder_of / "quiet.yaml").write_text(QUIET)
    return folder_of


def run(daemon, *arguments, environment=None, bench=BENCH, **more):
    return eyelevel("run", *arguments[:1], "--daemon", daemon.url, "--bench", bench, *arguments[1:],
                    env={**os.environ, **(environment or {})}, **more)


def begin(daemon, *arguments, environment=None):
    """With an input that stays open."""
    return subprocess.Popen([PROGRAM, "run", *map(str, arguments[:1]), "--daemon", daemon.url, "--bench", BENCH,
                             *map(str, arguments[1:])], cwd=TOP, text=True, env={**os.environ, **(environment or {})},
                            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def answers(at, text="answers: [done]\n"):
    path = pathlib.Path(at) / "answers.yaml"
    path.write_text(text)
    return path


def as_without(at):
    """Compared with a run that no daemon does, on a bench that simulates the same."""
    daemon = Daemon(at / "state")
    done = run(daemon, LEVEL, "--serial", "LF2-00417", "--model", "lf-2.yaml", "--answers", answers(at))
    told = done.stdout.splitlines()
    expect("a run at a daemon is finished and judged", done.returncode in (0, 1) and "finished" in told[-2], done.stdout + done.stderr)
    expect("its lines are those of any run", told[0] == "RF level of a pickup on a pressed disc, LF2-00417, bench " + BENCH
           and any("  > Insert the pressed test disc" in line for line in told)
           and any("level_pressed is" in line for line in told), done.stdout)
    expect("it says which daemon did it", told[-1].endswith(f"kept by the daemon at {daemon.url}")
           and f"of the daemon at {daemon.url}, bench {BENCH}" in done.stderr, done.stdout + done.stderr)
    there = as_json(run(daemon, LEVEL, "--serial", "LF2-00417", "--answers", answers(at), "--json"))
    with Sim("--seed", 5) as sim:
        here = as_json(eyelevel("run", f"sequences/{LEVEL}", "--bench", sim.bench_file(at), "--serial", "LF2-00417",
                                "--answers", answers(at), "--store", at / "here.db", "--json", "--alone"))
    expect("the JSON is the same object", list(there) == list(here) and set(there["units"][0]) == set(here["units"][0]),
           set(there["units"][0]) ^ set(here["units"][0]))
    expect("with the reading and the answer", there["units"][0]["ended"] == "finished"
           and there["units"][0]["readings"][0]["name"] == "level_pressed", there)

    listed = eyelevel("records", "--daemon", daemon.url, "--serial", "LF2-00417", "--json")
    runs = daemon.get("/api/1/runs")["runs"]
    expect("the daemon's records are listed", as_json(listed) == runs and len(runs) == 2, listed.stdout + listed.stderr)
    table = eyelevel("records", "--daemon", daemon.url, "--at-most", 1)
    own = eyelevel("records", "--store", at / "state" / "records.db", "--at-most", 1)
    expect("as the store itself lists them", (table.stdout, table.stderr) == (own.stdout, own.stderr), table.stdout + own.stdout)
    none = eyelevel("records", "--daemon", daemon.url, "--serial", "none & nobody?")
    expect("a serial that is none finds nothing", none.stdout == f"No such runs in the daemon at {daemon.url}.\n", none.stdout + none.stderr)
    daemon.end()


def asked(at):
    daemon = Daemon(at / "state", sequences=sequences_in(at))
    by_name = as_json(run(daemon, "questions.yaml", "--json", "--answers", answers(at, "answers:\n  clean: no\n")))
    expect("answers are given by name", by_name["units"][0]["answers"][0]["answer"] == "no", by_name)
    wrong = run(daemon, "questions.yaml", "--json", "--answers", answers(at, "answers:\n  clean: perhaps\n"))
    expect("a wrong answer in the file stops the run and names the file", wrong.returncode == 3 and "answers.yaml: 'perhaps' is no answer"
           in wrong.stderr and as_json(wrong)["units"][0]["ended"] == "stopped", wrong.stderr + wrong.stdout)
    expect("and leaves the bench idle", daemon.until(lambda b: b["state"] == "idle"))
    typed = run(daemon, "questions.yaml", input="maybe\nYES\n\n")
    expect("what is typed answers; what is no answer is asked for again", typed.returncode == 0 and "'maybe' is no answer to it"
           in typed.stderr and "< yes (operator at the terminal)" in typed.stdout, typed.stdout + typed.stderr)

    elsewhere = begin(daemon, "questions.yaml")
    daemon.until(lambda b: b["question"] and b["question"]["name"] == "clean")
    expect("meanwhile the page may answer", daemon.answer("yes") == 204)
    daemon.until(lambda b: b["question"] and b["question"]["wants"] == "done")
    out, err = elsewhere.communicate("\n", timeout=60)
    expect("and the terminal goes on with the next question", elsewhere.returncode == 0 and "< yes (a test)" in out
           and "< done (operator at the terminal)" in out, out + err)
    nobody = run(daemon, "questions.yaml", stdin=subprocess.DEVNULL)
    expect("where nobody can answer the run is stopped, with 3", nobody.returncode == 3 and "the input ended" in nobody.stderr, nobody.stderr)
    daemon.end()


def stopped(at):
    daemon = Daemon(at / "state")
    under_way = begin(daemon, LEVEL, "--json")
    daemon.until(lambda b: b["state"] == "running" and b["question"])
    daemon_run = daemon.bench()["run"]
    waiting = begin(daemon, LEVEL)
    while len(daemon.get("/api/1/jobs?state=waiting")["jobs"]) != 1:
        time.sleep(0.02)
    while "it waits" not in (line := waiting.stderr.readline()):
        if not line:
            break
    expect("who waits is told for what", f"{BENCH} does job 1 now" in line, line)
    waiting.send_signal(signal.SIGINT)
    out, err = waiting.communicate(timeout=30)
    expect("an interrupt withdraws a job that waits", waiting.returncode == 3 and "withdrawn before it began" in err, out + err)
    expect("and leaves the other run alone", daemon.bench()["run"] == daemon_run and daemon.bench()["state"] == "running", daemon.bench())
    under_way.send_signal(signal.SIGINT)
    out, err = under_way.communicate(timeout=30)
    unit = json.loads(out)["units"][0]
    expect("an interrupt stops the run there, which closes", under_way.returncode == 3 and unit["ended"] == "stopped"
           and unit["run"] == daemon_run and unit["judgement"] is None, out + err)
    expect("the bench is idle again", daemon.until(lambda b: b["state"] == "idle"))

    after_step = begin(daemon, LEVEL)
    daemon.until(lambda b: b["state"] == "running" and b["question"])
    after_step.send_signal(signal.SIGTSTP)
    daemon.until(lambda b: b["state"] == "paused")
    after_step.send_signal(signal.SIGTSTP)
    daemon.until(lambda b: b["state"] == "running")
    after_step.send_signal(signal.SIGQUIT)
    daemon.until(lambda b: b["state"] == "stopping")
    out, err = after_step.communicate("\n", timeout=60)
    expect("the keys that pause, go on and stop after a step do so there", after_step.returncode == 3 and "stopped" in out, out + err)
    daemon.end()


def interrupted(at):
    """The daemon is killed in the middle, and begun again at the same address."""
    daemon = Daemon(at / "state")
    under_way = begin(daemon, LEVEL)
    daemon.until(lambda b: b["state"] == "running" and b["question"])
    daemon.end(signal.SIGKILL)
    while "trying again" not in (line := under_way.stderr.readline()):
        if not line:
            break
    expect("a daemon that is gone is missed", "trying again" in line, line)
    daemon = Daemon(at / "state", listen=f"127.0.0.1:{daemon.port}")
    under_way.wait(60)  # its input stays open
    out, err = under_way.communicate()
    expect("when it is back, what became of the run is told, with 3", under_way.returncode == 3
           and "the daemon ended in the middle of the run" in err, out + err)
    daemon.end()


def refused(at):
    daemon = Daemon(at / "state")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        nobody = f"http://127.0.0.1:{free.getsockname()[1]}"
    server = http.server.HTTPServer(("127.0.0.1", 0), http.server.SimpleHTTPRequestHandler)  # answers 404 with a page
    threading.Thread(target=server.serve_forever, daemon=True).start()
    cases = [
        ("nothing listens there", ["--daemon", nobody, "--bench", BENCH], 3, "it cannot be reached"),
        ("something else listens there", ["--daemon", f"http://127.0.0.1:{server.server_port}", "--bench", BENCH], 3, "is no eyeleveld"),
        ("no such host", ["--daemon", "http://bench.invalid:8470", "--bench", BENCH], 3, "it cannot be reached"),
        ("no address", ["--daemon", "127.0.0.1:8470", "--bench", BENCH], 2, "http://127.0.0.1:8470"),
        ("another path", ["--daemon", daemon.url + "/api/1", "--bench", BENCH], 2, "no address of a daemon"),
        ("another bench", ["--daemon", daemon.url, "--bench", "lanternfield-2"], 2, f"did you mean '{BENCH}'?"),
        ("TLS where there is none", ["--daemon", daemon.url.replace("http", "https"), "--bench", BENCH], 2, "vouches"),
        ("a certificate without TLS", ["--daemon", daemon.url, "--bench", BENCH, "--certificate", "AB"], 2, "only https"),
        ("a certificate without a daemon", ["--bench", "examples/bench.yaml", "--certificate", "AB"], 2, "--daemon"),
        ("a store beside", ["--daemon", daemon.url, "--bench", BENCH, "--store", "x.db"], 2, "leave --store out"),
        ("a resume beside", ["--daemon", daemon.url, "--bench", BENCH, "--resume", "last"], 2, "/resume"),
        ("a value for nothing", ["--daemon", daemon.url, "--bench", BENCH, "--set", "target=1 V"], 2, "target"),
        ("a model that is none", ["--daemon", daemon.url, "--bench", BENCH, "--model", "none.yaml"], 2, "none.yaml"),
    ]
    for what, arguments, status, words in cases:
        done = eyelevel("run", LEVEL, *arguments, stdin=subprocess.DEVNULL)
        expect(f"refused: {what}", done.returncode == status and words in done.stderr, f"{done.returncode} {done.stderr}")
    done = run(daemon, "ready/pickup-levle.yaml", stdin=subprocess.DEVNULL)
    expect("refused: a sequence that it does not have", done.returncode == 2 and "pickup-levle" in done.stderr, done.stderr)
    remote = eyelevel("run", LEVEL, "--daemon", "http://192.0.2.10:8470", "--bench", BENCH, env={**os.environ, "EYELEVEL_TOKEN": "x"})
    expect("a token is not sent for everybody to read", remote.returncode == 2 and "https" in remote.stderr, remote.stderr)
    expect("nothing was run", daemon.get("/api/1/runs")["runs"] == [] and daemon.get("/api/1/jobs")["jobs"] == [])
    daemon.end()
    server.shutdown()


def signed_in(at):
    state = at / "state"
    user = subprocess.run([EYELEVELD, "user", "add", "bo", "--rights", "look,operate,change,administer", "--state", state], text=True,
                          input="four words of mine\n", capture_output=True, cwd=TOP, timeout=60)
    expect("a user", user.returncode == 0, user.stderr)
    daemon = Daemon(state, "--require-login", sequences=sequences_in(at))
    by_name = answers(at, "answers:\n  clean: yes\n")
    nobody = run(daemon, "questions.yaml", "--answers", by_name)
    expect("who is not signed in is told how", nobody.returncode == 2 and "EYELEVEL_TOKEN" in nobody.stderr, nobody.stderr)
    _, headers, _ = daemon.ask("POST", "/api/1/session", {"name": "bo", "password": "four words of mine"})
    cookie = {"Cookie": headers["Set-Cookie"].split(";")[0]}
    token = daemon.ask("POST", "/api/1/tokens", {"name": "bench PC", "rights": ["look", "operate"], "days": 1}, cookie)[2]["token"]
    seat = daemon.ask("POST", "/api/1/seats", {"bench": BENCH, "name": "bench PC"}, cookie)[2]["seat"]
    who = {"EYELEVEL_TOKEN": token}
    afar = run(daemon, "questions.yaml", "--answers", by_name, environment=who)
    expect("answers from afar are refused before anything begins", afar.returncode == 2 and "EYELEVEL_SEAT" in afar.stderr, afar.stderr)
    there = run(daemon, "questions.yaml", "--answers", by_name, environment={**who, "EYELEVEL_SEAT": seat})
    expect("at the bench it runs, under the user's name", there.returncode == 0 and "(bo)" in there.stdout, there.stdout + there.stderr)
    listed = eyelevel("records", "--daemon", daemon.url, "--json", env={**os.environ, **who})
    expect("the records are read with the token", len(as_json(listed)) == 1, listed.stderr)

    office = begin(daemon, "questions.yaml", environment=who)
    headers = {**cookie, "Eyelevel-Seat": seat}
    for answer in ("done", "yes", "done"):
        while "It is answered there" not in (line := office.stderr.readline()):
            if not line:
                break
        expect("the office sees what is asked", "It is answered there, not from here" in line, line)
        question = daemon.ask("GET", f"/api/1/benches/{BENCH}", headers=cookie)[2]["question"]["number"]
        daemon.ask("POST", f"/api/1/benches/{BENCH}/answer", {"question": question, "answer": answer}, headers)
    out, err = office.communicate(timeout=60)
    expect("and follows the run to its end", office.returncode == 0 and "finished" in out, out + err)
    daemon.end()


def secret(at):
    state = at / "state"
    subprocess.run([EYELEVELD, "user", "add", "bo", "--rights", "look,operate,change,administer", "--state", state], text=True,
                   input="four words of mine\n", capture_output=True, cwd=TOP, timeout=60, check=True)
    daemon = Daemon(state, listen="0.0.0.0:0", sequences=sequences_in(at))
    daemon.url = f"https://127.0.0.1:{daemon.port}"
    fingerprint = daemon.line["fingerprint"]
    unknown = run(daemon, LEVEL)
    expect("a certificate for which nobody vouches is refused, with what to do", unknown.returncode == 2
           and "--certificate" in unknown.stderr, unknown.stderr)
    other = run(daemon, LEVEL, "--certificate", "00:" * 31 + "00")
    expect("another one is told as what it is", other.returncode == 2 and fingerprint in other.stderr, other.stderr)
    known = run(daemon, LEVEL, "--certificate", fingerprint)
    expect("the right one leads on to signing in", known.returncode == 2 and "EYELEVEL_TOKEN" in known.stderr, known.stderr)
    file = run(daemon, LEVEL, "--certificate", state / "tls.pem")
    expect("a .pem file does as well", "EYELEVEL_TOKEN" in file.stderr, file.stderr)

    context = ssl.create_default_context(cafile=str(state / "tls.pem"))
    cookie = None

    def ask(path, body):
        nonlocal cookie
        connection = http.client.HTTPSConnection("127.0.0.1", daemon.port, timeout=20, context=context)
        headers = {"Content-Type": "application/json", **({"Cookie": cookie} if cookie else {})}
        connection.request("POST", path, json.dumps(body), headers)
        answer = connection.getresponse()
        cookies = [c.split(";")[0] for c in answer.headers.get_all("Set-Cookie") or []]
        data = json.loads(answer.read())
        connection.close()
        return cookies, data

    cookies, _ = ask("/api/1/session", {"name": "bo", "password": "four words of mine"})
    cookie = cookies[0]
    _, made = ask("/api/1/tokens", {"name": "bench PC", "rights": ["look", "operate"], "days": 1})
    _, seat = ask("/api/1/seats", {"bench": BENCH, "name": "bench PC"})
    who = {"EYELEVEL_TOKEN": made["token"], "EYELEVEL_SEAT": seat["seat"]}
    done = run(daemon, "quiet.yaml", "--certificate", fingerprint, environment=who)
    expect("a whole run over TLS", done.returncode == 0 and "note: x" in done.stdout, done.stdout + done.stderr)
    daemon.end()


def found_by_itself(at):
    notes = pathlib.Path(os.environ["XDG_STATE_HOME"]) / "eyelevel" / "daemons"
    sequences = sequences_in(at)
    quiet = sequences / "quiet.yaml"
    with Sim("--seed", 5) as sim:
        bench = sim.bench_file(at)
        alone = ["run", quiet, "--bench", bench, "--store", at / "own.db"]
        usual = eyelevel(*alone)
        expect("without a daemon nothing is said of one", "daemon" not in usual.stderr + usual.stdout, usual.stderr)
        simulated = Daemon(at / "simulated")
        beside = eyelevel(*alone)
        expect("a daemon that has other benches is told of, and not used", f"a daemon runs at {simulated.url}" in beside.stderr
               and "own.db" in beside.stdout, beside.stderr + beside.stdout)
        simulated.end()
        expect("its note is gone with it", list(notes.iterdir()) == [], list(notes.iterdir()))

        daemon = Daemon(at / "state", simulated=False, bench=bench, sequences=sequences)
        through = eyelevel("run", quiet, "--bench", bench, "--serial", "LF2-00417", "--model", "examples/models/lf-2.yaml")
        expect("the daemon that owns the bench does the run", through.returncode == 0 and "owns this bench" in through.stderr
               and through.stdout.endswith(f"kept by the daemon at {daemon.url}\n"), through.stderr + through.stdout)
        expect("and has it in its record", daemon.get("/api/1/runs?serial=LF2-00417")["runs"][0]["model"] == "LF-2")
        store = eyelevel(*alone)
        expect("a store of one's own is refused then", store.returncode == 2 and "--alone" in store.stderr, store.stderr)
        (at / "mine.yaml").write_text(QUIET)
        outside = eyelevel("run", at / "mine.yaml", "--bench", bench)
        expect("a sequence that it does not have is refused with where to put it", outside.returncode == 2
               and str(sequences) in outside.stderr, outside.stderr)
        own = eyelevel(*alone, "--alone")
        expect("--alone does without", own.returncode == 0 and "own.db" in own.stdout and "daemon" not in own.stderr, own.stderr + own.stdout)
        daemon.end(signal.SIGKILL)
        expect("a daemon that was killed leaves its note", len(list(notes.iterdir())) == 1)
        after = eyelevel(*alone)
        expect("which nobody takes for a running one", after.returncode == 0 and "daemon" not in after.stderr, after.stderr)
        expect("and which is taken away", list(notes.iterdir()) == [])


for scene in (as_without, asked, stopped, interrupted, refused, signed_in, secret, found_by_itself):
    print(scene.__name__, flush=True)
    with folder() as place:
        scene(pathlib.Path(place))
finish()
