// SPDX-License-Identifier: Apache-2.0
// What the page knows of one bench: each message of the feed makes a new state out of the one before. No DOM, no clock:
// the time of arrival is told. `/api/1/benches/{bench}/feed` in core/service/README.md says what the messages hold.
import {place_key} from "./recipe.js";

// Within half a second a level that no look has renewed must be gone; twenty come in a second.
export const stale_after_ms = 450;

const no_run = {
  run: null,
  after: 0,
  given: null,
  seen: "",
  readings: [],
  reached: [],
  broken_off: null,
  look: null,
  look_at_ms: 0
};

export const nothing_known = {
  bench: null,
  feed: "opening",
  missed: [],
  dropped: 0,
  ...no_run
};

// The places that the run has come to, each once.
function with_place(reached, place) {
  const key = place_key(place);
  return reached.includes(key) ? reached : [...reached, key];
}

function with_event(state, event) {
  const known = state.run === event.run;
  if (known && event.number <= state.after) return state;
  const next = {...(known ? state : {...state, ...no_run}), run: event.run, after: event.number};
  const body = event.body;
  if (body.place) next.reached = with_place(next.reached, body.place);
  switch (event.event) {
    case "begun":
      next.given = {sequence: body.sequence, serial: body.serial, model: body.model, bench: body.bench};
      break;
    case "seen": next.seen = body.what; break;
    case "prompted":
    case "waiting": next.seen = ""; break;
    case "measured": next.readings = [...next.readings, body.reading]; break;
    case "judged":
      next.readings =
          next.readings.map((r) => r.name === body.reading ? {...r, judgement: body.judgement, limit: body.limit} : r);
      break;
    case "broken off": next.broken_off = body.error; break;
  }
  return next;
}

// A bench that has gone on to another run: what is known of the run before stays only with that run.
function with_bench(state, bench) {
  const other_run = bench.run !== null && state.run !== null && bench.run !== state.run;
  const known = other_run ? no_run : state;
  const reached = bench.here ? with_place(known.reached, bench.here) : known.reached;
  return {...state, ...(other_run ? no_run : {}), reached, run: bench.run ?? state.run, bench};
}

export function with_message(state, message, now_ms) {
  switch (message.kind) {
    case "bench": return with_bench(state, message.bench);
    case "event": return with_event(state, message.event);
    case "missed": return {...state, missed: [...state.missed, ...message.runs]};
    case "look": return {...state, look: message, look_at_ms: now_ms};
    case "dropped": return {...state, dropped: message.looks};
    default: return state;  // a newer daemon may tell more than this page understands
  }
}

export function with_feed(state, feed) { return {...state, feed}; }

// The level that may be shown, or null: none has come, it is older than half a second, or the feed is cut.
export function live_look(state, now_ms) {
  if (state.look === null || state.feed !== "open") return null;
  return now_ms - state.look_at_ms < stale_after_ms ? state.look : null;
}

// Where the feed is to go on after it was cut: the query of its address.
export function resume_query(state) {
  if (state.run === null || state.after === 0) return "";
  return `?run=${encodeURIComponent(state.run)}&after=${state.after}`;
}

// What the bench view shows big: one thing at a time.
export function stage_of(state) {
  const bench = state.bench;
  if (bench === null) return "loading";
  if (bench.trouble !== null) return "trouble";
  if (bench.question !== null) return "question";
  if (bench.state === "paused") return "paused";
  if (bench.state === "stopping") return "stopping";
  if (bench.state === "running" || bench.state === "waits for start") return "now";
  return bench.last !== null ? "ended" : "idle";
}

// What may be done with the run, in the order of the buttons. It is stopped from anywhere, gone on with at the bench.
export function controls_of(bench, may_operate, is_here) {
  switch (bench === null || !may_operate ? "" : bench.state) {
    case "running": return ["pause", "stop-after-step", "stop"];
    case "paused": return is_here ? ["go-on", "stop"] : ["stop"];
    case "stopping": return ["stop"];
    default: return [];
  }
}
