// SPDX-License-Identifier: Apache-2.0
// What the stand-in answers over HTTP: the part of the API that the page uses.

export class Refused extends Error {
  constructor(status, title, detail, more = {}) {
    super(detail);
    this.status = status;
    this.problem = {type: "about:blank", title, status, detail, ...more};
  }
}

// Of the events of a run, what `eyelevel run --json` says of its unit.
export function unit_of(events) {
  const body = (kind) => events.filter((e) => e.event === kind).map((e) => e.body);
  const judged = new Map(body("judged").map((b) => [b.reading, b]));
  const closed = body("closed")[0];
  const begun = body("begun")[0];
  const readings = body("measured").map(({reading: r}) => ({
                                          name: r.name,
                                          value: r.value,
                                          unit: r.unit,
                                          expanded_uncertainty: r.interval.expanded_uncertainty,
                                          count: r.count,
                                          tried: r.tried,
                                          at_least: judged.get(r.name)?.limit.at_least ?? null,
                                          at_most: judged.get(r.name)?.limit.at_most ?? null,
                                          judgement: judged.get(r.name)?.judgement ?? null,
                                        }));
  return {
    serial: begun.serial,
    model: begun.model,
    run: events[0].run,
    ended: closed?.ended ?? "",
    judgement: closed?.judgement ?? null,
    readings,
    answers: [],
    error: null
  };
}

function workshop_answer(check_unit) {
  const half = (of) =>
      ({of, passed: 10, failed: 9, undecided: 1, not_judged: 0, yield: 0.5, yield_low: 0.3, yield_high: 0.7});
  return {
    reading: "level_pressed",
    unit: "V",
    readings: 40,
    since_utc: "2029-07-08T00:00:00.000Z",
    sentences:
        [check_unit === "" ? "Nothing stands out." :
                             `bench 2 reads the check unit ${check_unit} 4 % low since 2030-01-05.`],
    yield: {
      all: half(""),
      by_model: [half("LF-2")],
      by_bench: [half("bench 1"), half("bench 2")],
      by_operator: [half("")],
      units_by_lot: [],
      by_week: [half("2030-01-07")]
    },
    charts: [{}],
    check_unit,
    checks: [],
    capability: [],
    operators: null,
    lots: null,
    notes: []
  };
}

function run_answer(stand_in, run, deed, query) {
  const summary = (events) => ({
    begun_utc: events[0].utc,
    sequence: stand_in.explained.sequence,
    bench: stand_in.bench.name,
    ...unit_of(events)
  });
  if (run === undefined) {
    const all = [...stand_in.runs.values()].filter((events) => events.length > 0).map(summary).reverse();
    return {runs: all.filter((r) => query.get("serial") === null || r.serial === query.get("serial"))};
  }
  const events = stand_in.runs.get(run);
  if (events === undefined) throw new Refused(404, "No such run", `There is no run "${run}".`);
  if (deed === "events") return {events};
  if (deed?.startsWith("sheet")) {
    return {
      type: "image/svg+xml",
      content:
          `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 210 297"><text x="10" y="20" font-size="8">Sheet of ${
              run}</text></svg>`
    };
  }
  return unit_of(events);
}

function bench_answer(stand_in, name) {
  const bench = stand_in.benches.find((b) => b.name === name);
  if (bench === undefined) throw new Refused(404, "No such bench", `There is no bench "${name}".`);
  return bench;
}

export function answer_to(stand_in, method, [what, id, deed], query, body) {
  switch (`${method} ${what ?? ""}`) {
    case "GET ": return {program: "stand-in 0", benches: stand_in.benches.map((b) => b.name)};
    case "GET benches": return id === undefined ? {benches: stand_in.benches} : bench_answer(stand_in, id);
    case "POST benches": return stand_in.act(deed, body);
    case "GET schedules": return {schedules: stand_in.schedules};
    case "GET jobs": return {jobs: stand_in.jobs};
    case "POST jobs":
      return id === undefined ?
          {status: 201, body: stand_in.take(body)} :
          stand_in.change(
              Number(id), {resume: {state: "waiting"}, close: {state: "done"}, stop: {state: "done"}}[deed]);
    case "PATCH jobs": return stand_in.change(Number(id), {priority: body.priority});
    case "DELETE jobs": return stand_in.change(Number(id), {state: "withdrawn"}) && null;
    case "GET sequences":
      return id === "sentences" ? stand_in.explained : {
        sequences:
            [{file: "ready/pickup-level.yaml", name: stand_in.explained.sequence, about: stand_in.explained.about}]
      };
    case "GET troubles": return {troubles: [{name: "disc dirty", about: "a fingerprint", told: "", must: "no pass"}]};
    case "POST rehearsals": return {status: 201, body: stand_in.rehearse(body)};
    case "GET rehearsals": return stand_in.rehearsal;
    case "DELETE rehearsals": return stand_in.end_rehearsal();
    case "GET models": return {models: [{file: "lf-2.yaml", model: "LF-2", about: "Invented player"}]};
    case "GET workshop":
      return id === "charts.svg" ? {
        type: "image/svg+xml",
        content: `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 210 100"><text x="10" y="20">Charts</text></svg>`
      } :
                                   workshop_answer(query.get("check_unit") ?? "");
    case "GET retention": return {rules: null, next_utc: null, last: null, why_not: ""};
    case "GET runs": return run_answer(stand_in, id, deed, query);
    default: throw new Refused(404, "Not found", `${method} ${what}: no such thing here`);
  }
}
