// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {test} from "node:test";

import {controls_of, live_look, nothing_known, resume_query, stage_of, with_feed, with_message} from "../../../../core/service/page/state.js";

const idle = {
  name: "b",
  state: "idle",
  run: null,
  question: null,
  last: null,
  trouble: null
};
const event = (run, number, kind, body = {}) => ({kind: "event", event: {run, number, event: kind, body}});
const after = (...messages) => messages.reduce((state, m) => with_message(state, m, 1000), nothing_known);

test("state: an event that comes again after a cut is taken once", () => {
  const reading = {name: "level", value: 1};
  const state =
      after(event("r", 1, "begun"), event("r", 2, "measured", {reading}), event("r", 2, "measured", {reading}));
  assert.equal(state.readings.length, 1);
  assert.equal(resume_query(state), "?run=r&after=2");
});

test("state: another run forgets the readings and the level of the one before", () => {
  const state = after(
      event("r1", 5, "measured", {reading: {name: "level"}}), {kind: "look", run: "r1", level_v: 1},
      event("r2", 1, "begun"));
  assert.deepEqual([state.run, state.after, state.readings, state.look], ["r2", 1, [], null]);
});

test("state: a bench that went on to another run forgets too, one that ended its run does not", () => {
  const first =
      after({kind: "bench", bench: {...idle, run: "r1"}}, event("r1", 1, "measured", {reading: {name: "level"}}));
  assert.deepEqual(with_message(first, {kind: "bench", bench: {...idle, run: "r2"}}, 0).readings, []);
  assert.equal(with_message(first, {kind: "bench", bench: idle}, 0).readings.length, 1);
});

test("state: the places that a run came to are kept until another run, told by events and by the bench alike", () => {
  const at = (line) => ({part: "steps", number: 1, file: "", line});
  const here = {kind: "bench", bench: {...idle, run: "r", here: at(28)}};
  const state = after(
      event("r", 1, "begun"), event("r", 2, "waiting", {place: at(26)}), event("r", 3, "seen", {place: at(26)}), here);
  assert.deepEqual(state.reached, ["steps 26 ", "steps 28 "]);
  assert.deepEqual(with_message(state, event("r2", 1, "begun"), 0).reached, []);
});

test("state: a reading takes over what it was judged as", () => {
  const limit = {at_least: 1, at_most: 2};
  const state = after(
      event("r", 1, "measured", {reading: {name: "level"}}),
      event("r", 2, "judged", {reading: "level", judgement: "pass", limit}));
  assert.deepEqual(state.readings, [{name: "level", judgement: "pass", limit}]);
});

test("state: a level is live for half a second, and never while the feed is cut", () => {
  const state = with_feed(with_message(nothing_known, {kind: "look", level_v: 1.2}, 1000), "open");
  assert.equal(live_look(state, 1449).level_v, 1.2);
  assert.equal(live_look(state, 1450), null);
  assert.equal(live_look(with_feed(state, "cut"), 1001), null);
});

test("state: nothing is resumed before anything has come; a run's name is escaped", () => {
  assert.equal(resume_query(nothing_known), "");
  assert.equal(resume_query(after(event("a&b", 3, "begun"))), "?run=a%26b&after=3");
});

test("state: one thing at a time, what is most urgent first", () => {
  const question = {text: "?"};
  const stage = (bench) => stage_of({...nothing_known, bench: {...idle, ...bench}});
  assert.equal(stage_of(nothing_known), "loading");
  assert.equal(stage({trouble: {message: "x"}, question, state: "running"}), "trouble");
  assert.equal(stage({question, state: "paused"}), "question");
  assert.equal(stage({state: "paused"}), "paused");
  assert.equal(stage({state: "stopping"}), "stopping");
  assert.equal(stage({state: "running"}), "now");
  assert.equal(stage({last: {run: "r"}}), "ended");
  assert.equal(stage({}), "idle");
});

test("state: what was missed adds up, what was dropped is the daemon's count, what is unknown changes nothing", () => {
  const state = after(
      {kind: "missed", runs: ["a"]}, {kind: "missed", runs: ["b"]}, {kind: "dropped", looks: 4},
      {kind: "dropped", looks: 17});
  assert.deepEqual([state.missed, state.dropped], [["a", "b"], 17]);
  assert.equal(with_message(state, {kind: "from the future"}, 0), state);
});

test("state: what waits for nothing can be stopped but not gone on with", () => {
  assert.deepEqual(controls_of({state: "running"}, true, true), ["pause", "stop-after-step", "stop"]);
  assert.deepEqual(controls_of({state: "paused"}, true, true), ["go-on", "stop"]);
  assert.deepEqual(controls_of({state: "stopping"}, true, true), ["stop"]);
  assert.deepEqual(controls_of({state: "idle"}, true, true), []);
  assert.deepEqual(controls_of(null, true, true), []);
});

test("state: from elsewhere a run is stopped but not gone on with; who may not operate does neither", () => {
  assert.deepEqual(controls_of({state: "running"}, true, false), ["pause", "stop-after-step", "stop"]);
  assert.deepEqual(controls_of({state: "paused"}, true, false), ["stop"]);
  assert.deepEqual(controls_of({state: "paused"}, false, true), []);
});
