// SPDX-License-Identifier: Apache-2.0
// Stands in for the daemon, for tests of the page alone: it serves the page and the part of the API that the page uses,
// plays a run that was recorded by a rehearsal, and can be put into states that are hard to reach (trouble, an
// interrupted job, every kind of question, a feed that is cut). Everything is in memory; the time is the wall clock's.
//   node stand_in.mjs RUN.json SENTENCES.json [PORT]      a bench to look at, with the page from this tree
import {readFileSync} from "node:fs";
import {createServer} from "node:http";
import {dirname, extname, join, normalize} from "node:path";
import {fileURLToPath} from "node:url";

import {made_up_eye} from "./made_up_eye.mjs";
import {accept_socket} from "./server_socket.mjs";
import {StandInAccess} from "./stand_in_access.mjs";
import {answer_to, Refused, unit_of} from "./stand_in_api.mjs";

const page_folder = join(dirname(fileURLToPath(import.meta.url)), "../../../../core/service/page");
const types = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml"
};
const policy = "default-src 'self'; frame-ancestors 'none'";
const bench_name = "lanternfield-1";
const model_cautions = ["invisible laser radiation when the cover is open", "pickup is destroyed by static"];

// The first instrument answered, the others did not.
function met(instrument, place) {
  const asked_utc = "2030-01-07T08:00:00.000Z";
  const answers = place === 0;
  return {
    asked_utc,
    answers,
    seen_utc: answers ? asked_utc : null,
    identity: answers ? instrument.identity : "",
    trouble: answers ? null : {code: "time out", where: "", message: "no answer within 3 s", advice: "is it on?"}
  };
}

export class StandIn {
  // `recorded`: the events of a rehearsed run; `explained`: what `eyelevel explain --json` prints of its sequence.
  constructor(recorded, explained, {benches = [bench_name], step_ms = 20, looks = 20, users} = {}) {
    Object.assign(this, {recorded, explained, step_ms, looks});
    this.viewers = new Set();
    this.access = new StandInAccess(users);
    this.jobs = [];
    this.schedules = [];
    this.runs = new Map();
    this.questions = 0;
    this.received = [];  // what the page asked for by POST, PATCH and DELETE
    this.benches = benches.map((name) => this.idle_bench(name));
    this.bench = this.benches[0];
  }

  idle_bench(name) {
    const instruments = this.recorded.filter((e) => e.event === "connected").map(({body: {instrument: i}}, n) => ({
                                                                                   role: i.role,
                                                                                   kind: i.kind,
                                                                                   resource: i.resource,
                                                                                   calibration_due: i.calibration_due,
                                                                                   health: met(i, n)
                                                                                 }));
    return {
      name,
      about: "Invented bench of the stand-in",
      state: "idle",
      instruments,
      proof: {proven: true, run: "2030-01-05-1", at_utc: "2030-01-05T07:30:00.000Z", judgement: "pass", old: false},
      job: null,
      run: null,
      sequence: null,
      here: null,
      question: null,
      last: null,
      trouble: null
    };
  }

  async listen(port = 0) {
    this.server = createServer((request, response) => this.serve(request, response));
    this.server.on("upgrade", (request, connection) => this.upgrade(request, connection));
    await new Promise((resolve) => {
      this.server.listen(port, "127.0.0.1", resolve);
    });
    this.port = this.server.address().port;
    this.url = `http://127.0.0.1:${this.port}`;
    return this;
  }

  // Every session has ended, and with it what was shown by it.
  end_sessions() {
    this.access.sessions.clear();
    for (const viewer of this.viewers) viewer.socket.cut();
  }

  // As if the daemon had gone: every connection is cut and none is taken.
  async cut() {
    for (const viewer of this.viewers) viewer.socket.cut();
    this.server.closeAllConnections();
    await new Promise((resolve) => {
      this.server.close(resolve);
    });
  }

  back() { return this.listen(this.port); }

  // The bench as it is from now on; every viewer hears of it.
  becomes(changes) {
    Object.assign(this.bench, changes);
    this.tell({kind: "bench", bench: this.bench});
  }

  tell(message) {
    for (const viewer of this.viewers)
      if (viewer.bench === this.bench.name) viewer.socket.text(message);
  }

  look(level_v, more = {}) {
    this.tell({
      kind: "look",
      run: this.bench.run,
      signal: "rf",
      name: "pressed",
      level_v,
      level_expanded_v: 0.021,
      at_least: 1.08,
      at_most: 1.32,
      kept: 12,
      tried: 13,
      wanted: 64,
      ...more
    });
  }

  eye(more = {}) {
    const frame = made_up_eye(more);
    for (const viewer of this.viewers) viewer.socket.binary(frame);
  }

  // Asks and gives the answer once it has come.
  ask(question) {
    const asked = {
      number: ++this.questions,
      text: "",
      wants: "done",
      choices: [],
      allowed: "",
      start: false,
      again: "",
      within_s: null,
      asked_utc: new Date().toISOString(),
      ...question
    };
    return new Promise((resolve) => {
      this.answered = (answer) => {
        this.becomes({question: null});
        resolve(answer);
      };
      this.becomes({question: asked});
    });
  }

  sequence() {
    const {sequence: name, about, opening, steps, closing, cautions = model_cautions} = this.explained;
    return {name, about, cautions, sentences: [...opening, ...steps, ...closing]};
  }

  pause(ms = this.step_ms) {
    return new Promise((resolve) => {
      setTimeout(resolve, ms);
    });
  }

  // A job from its start by the person at the bench to its end.
  async play(job) {
    const run = `2030-01-07-${this.runs.size + 1}`;
    this.becomes({job, sequence: this.sequence(), state: "waits for start", last: null});
    await this.ask(
        {text: `Start ${this.explained.sequence} on ${job.serial}? It lights the laser of the player.`, start: true});
    Object.assign(job, {state: "under way", run});
    const told = [];
    this.runs.set(run, told);
    this.becomes({state: "running", run});
    let looked = false;
    for (const recorded of this.recorded) {
      const event = {
        ...recorded,
        run,
        body: recorded.event === "begun" ? {...recorded.body, serial: job.serial} : recorded.body
      };
      if (event.body.place) this.becomes({here: event.body.place});
      if (event.event === "captured" && !looked) {
        looked = true;
        await this.show_looks();
      }
      const waits = event.event === "prompted" ?
          this.ask({text: event.body.text, within_s: event.body.within_s, wants: event.body.wants}) :
          this.pause(event.event === "captured" ? 0 : this.step_ms);
      told.push(event);
      this.tell({kind: "event", event});
      await waits;
    }
    const unit = unit_of(told);
    job.state = "done";
    this.becomes({
      state: "idle",
      job: null,
      run: null,
      sequence: null,
      here: null,
      last: {
        run,
        serial: job.serial,
        sequence: this.explained.sequence,
        ended: unit.ended,
        judgement: unit.judgement,
        sentence: this.sentence ?? ""
      }
    });
  }

  async show_looks() {
    for (let i = 1; i <= this.looks; ++i) {
      this.look(0.96 + 0.01 * Math.sin(i), {level_expanded_v: i < 3 ? null : 0.02 + 0.06 / i, kept: i, tried: i + 1});
      this.eye({level_v: 0.96, seed: i});
      await this.pause(50);
    }
  }

  upgrade(request, connection) {
    const address = new URL(request.url, this.url);
    if (!this.access.caller_of(request).rights.includes("look")) {
      connection.end("HTTP/1.1 401 Unauthorized\r\nContent-Length: 0\r\n\r\n");
      return;
    }
    const name = decodeURIComponent(address.pathname.split("/")[4] ?? "");
    const bench = this.benches.find((b) => b.name === name);
    if (bench === undefined || !address.pathname.endsWith("/feed")) {
      connection.end("HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\n\r\n");
      return;
    }
    const viewer = {bench: name, query: Object.fromEntries(address.searchParams)};
    viewer.socket = accept_socket(request, connection, () => this.viewers.delete(viewer));
    this.viewers.add(viewer);
    this.last_query = viewer.query;
    viewer.socket.text({kind: "bench", bench});
    const run = viewer.query.run ?? bench.run;
    const after = Number(viewer.query.after ?? 0);
    for (const event of this.runs.get(run) ?? [])
      if (event.number > after) viewer.socket.text({kind: "event", event});
  }

  async serve(request, response) {
    const address = new URL(request.url, this.url);
    response.setHeader("content-security-policy", policy);
    response.setHeader("x-content-type-options", "nosniff");
    try {
      if (!address.pathname.startsWith("/api/1")) {
        this.serve_file(address.pathname, response);
        return;
      }
      const chunks = [];
      for await (const chunk of request) chunks.push(chunk);
      const body = chunks.length === 0 ? {} : JSON.parse(Buffer.concat(chunks).toString());
      const parts = address.pathname.split("/").slice(3).map(decodeURIComponent);
      if (request.method !== "GET") this.received.push({method: request.method, path: address.pathname, body});
      this.reply(response, this.answer_to(request, address, parts, body));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      response.writeHead(error.status, {"content-type": "application/problem+json"});
      response.end(JSON.stringify(error.problem));
    }
  }

  answer_to(request, {pathname, searchParams}, parts, body) {
    const {access} = this;
    const caller = access.caller_of(request);
    access.require(caller, request.method, parts[0]);
    if (parts[0] === "benches" && parts[2] === "answer") access.require_seat(caller, parts[1]);
    if (request.method !== "GET") access.note(caller, request.method, pathname, body);
    const answer = access.answer_to(caller, request.method, parts, searchParams, body);
    return answer === undefined ? answer_to(this, request.method, parts, searchParams, body) : answer;
  }

  reply(response, answer) {
    if (answer?.cookie) response.setHeader("set-cookie", answer.cookie);
    if (answer === null) {
      response.writeHead(204).end();
    } else if (answer.type) {
      response.writeHead(200, {"content-type": answer.type}).end(answer.content);
    } else {
      response.writeHead(answer.status ?? 200, {"content-type": "application/json"})
          .end(JSON.stringify(answer.body ?? answer));
    }
  }

  serve_file(path, response) {
    const name = normalize(path === "/" ? "/index.html" : path);
    try {
      const content = readFileSync(join(page_folder, name));
      response.writeHead(200, {"content-type": types[extname(name)]}).end(content);
    } catch (error) {
      throw new Refused(404, "Not found", error.message);
    }
  }

  act(deed, body) {
    if (deed === "answer") {
      const question = this.bench.question;
      if (question === null || body.question !== question.number)
        throw new Refused(409, "No longer asked", `Question ${body.question} is no longer asked.`);
      const wrong = this.wrong_with?.(body.answer);
      if (wrong) throw new Refused(422, "Not an answer", wrong);
      this.answered(body.answer);
      return null;
    }
    if (deed === "scan")
      return {status: 201, body: this.take({...body, bench: this.bench.name, sequence: "ready/pickup-level.yaml"})};
    const becomes = {"pause": "paused", "go-on": "running", "stop-after-step": "stopping", "stop": "stopping"}[deed];
    if (this.bench.run === null)
      throw new Refused(
          409, "Nothing to do that to", `No run is under way on ${this.bench.name}.`, {advice: "queue a job first"});
    this.becomes({state: becomes});
    return null;
  }

  take({bench, sequence, serial = "", model = "", set = {}, priority = 0, by = ""}) {
    if (set.drift_allowed === "1 kg")
      throw new Refused(
          422, "Not a value", "expected a voltage such as 100 mV, found a mass (1 kg)",
          {where: "set.drift_allowed", advice: "write a voltage such as 100 mV"});
    const job = {
      id: this.jobs.length + 1,
      bench,
      sequence,
      serial,
      model,
      set,
      priority,
      asked_by: by,
      asked_utc: new Date().toISOString(),
      state: "waiting",
      run: "",
      goes_on_from: "",
      why: ""
    };
    this.jobs.push(job);
    if (this.bench.job === null && this.plays !== false) this.playing = this.play(job);
    return job;
  }

  // A rehearsal under way, which a test brings on by hand.
  rehearse(order) {
    this.rehearsal = {rehearsal: 1, ...order, state: "under way", done: 0, result: null, why: ""};
    return this.rehearsal;
  }

  end_rehearsal() {
    Object.assign(this.rehearsal, {state: "over", result: made_up_result(this.rehearsal)});
    return null;
  }

  change(id, changes) {
    const job = this.jobs.find((j) => j.id === id);
    if (job === undefined) throw new Refused(404, "No such job", `There is no job ${id}.`);
    return Object.assign(job, changes);
  }
}

// As `eyelevel rehearse --json` prints it: one unit that passed, one that was broken off and should not have been.
function made_up_result({seed}) {
  const unit = {model: "LF-2", run: "", simulated_s: 60, wall_s: 0, findings: [], wrong: null, caught: null};
  const reading = {
    name: "level_pressed",
    value: 1.204,
    unit: "V",
    expanded_uncertainty: 0.021,
    judgement: "pass",
  };
  return {
    sequence: "pickup-level",
    seed,
    units: [
      {
        ...unit,
        serial: "LF2-00001",
        ended: "finished",
        judgement: "pass",
        readings: [reading],
        error: null,
        truth: {readings: {level_pressed: 1.199}, troubles: []}
      },
      {
        ...unit,
        serial: "LF2-00002",
        ended: "stopped",
        judgement: null,
        readings: [],
        error: {code: "no answer", where: "scope", message: "no answer within 2.00 s"},
        wrong: "it must name the disc",
        truth: {readings: {}, troubles: ["disc dirty"]}
      }
    ],
    endings: {"pass": 1, "fail": 0, "undecided": 0, "not judged": 0, "stopped": 1},
    not_as_they_must: 1,
    wrong_passes: 0
  };
}

export function load_recorded(run_file, sentences_file) {
  const recorded = JSON.parse(readFileSync(run_file)).events;
  return [recorded, JSON.parse(readFileSync(sentences_file))];
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const [run, sentences, port = 0] = process.argv.slice(2);
  const stand_in = await new StandIn(...load_recorded(run, sentences), {step_ms: 400, looks: 200}).listen(Number(port));
  console.log(stand_in.url);
}
