// SPDX-License-Identifier: Apache-2.0
// Addresses, the pedal, the eye's bytes, jobs.
import assert from "node:assert/strict";
import {test} from "node:test";

import {pixels_of, ramp, read_eye} from "../../../../core/service/page/eye_frame.js";
import {new_job, sequence_name, sorted_out} from "../../../../core/service/page/jobs.js";
import {is_pedal, may_be_learnt} from "../../../../core/service/page/pedal.js";
import {hash_of, route_of} from "../../../../core/service/page/route.js";
import {is_run, Scanner, together_ms} from "../../../../core/service/page/scan.js";

import {made_up_eye} from "./made_up_eye.mjs";

test("route: an address and its view are each other's inverse, whatever the name", () => {
  for (const name of ["lanternfield-1", "a/b c", "Prüfplatz ?#%"]) {
    assert.deepEqual(route_of(hash_of("bench", name)), {view: "bench", name, parameters: {}});
  }
  assert.deepEqual(
      route_of(hash_of("records", "", {serial: "LF2 & 4"})),
      {view: "records", name: "", parameters: {serial: "LF2 & 4"}});
});

test("route: nothing asks for the bench, what is no view is none", () => {
  for (const hash of ["", "#", "#/"]) assert.equal(route_of(hash).view, "bench");
  assert.equal(route_of("#/nowhere").view, "unknown");
  assert.equal(route_of("#/bench/%").view, "unknown");
});

const key = (code, more = {}) => ({code, repeat: false, ctrl: false, alt: false, meta: false, ...more});

test("pedal: space, Enter and page down mean it on the page; a control and a field keep theirs", () => {
  for (const code of ["Space", "Enter", "NumpadEnter", "PageDown"]) {
    assert.ok(is_pedal(key(code), "page", ""));
    assert.ok(!is_pedal(key(code), "typing", ""));
  }
  assert.ok(!is_pedal(key("Space"), "control", ""));
  assert.ok(is_pedal(key("PageDown"), "control", ""));
});

test("pedal: a key held down, or with Ctrl, is none", () => {
  assert.ok(!is_pedal(key("Space", {repeat: true}), "page", ""));
  for (const modifier of ["ctrl", "alt", "meta"]) assert.ok(!is_pedal(key("Space", {[modifier]: true}), "page", ""));
});

test("pedal: the learnt key means it everywhere but in a field; Tab and Escape cannot be learnt", () => {
  assert.ok(is_pedal(key("F13"), "control", "F13"));
  assert.ok(!is_pedal(key("F13"), "typing", "F13"));
  assert.ok(!is_pedal(key("F13"), "page", ""));
  assert.deepEqual(["Tab", "Escape", "", "F13"].map(may_be_learnt), [false, false, false, true]);
});

// What comes of each key, `apart` ms after the one before.
function typed(keys, apart, more = {}) {
  const scanner = new Scanner();
  return keys.map(
      (one, i) => scanner.take({key: one, ctrl: false, alt: false, meta: false, repeat: false, ...more}, i * apart));
}

test("scan: keys that come faster than anybody types are a serial number at their Enter", () => {
  const keys = ["Shift", "L", "Shift", "F", "2", "-", "0", "0", "4", "1", "7", "Enter"];
  const given = typed(keys, 8);
  assert.equal(given.pop(), "LF2-00417");
  assert.ok(given.every((one) => one === ""));
});

test("scan: typed by hand, too short, with Ctrl, held down, or broken off it is none", () => {
  assert.equal(typed([..."LF2-00417", "Enter"], together_ms + 1).pop(), "");
  assert.equal(typed([..."ab", "Enter"], 8).pop(), "");
  assert.equal(typed([..."LF2-00417", "Enter"], 8, {ctrl: true}).pop(), "");
  assert.equal(typed([..."LF2-00417", "Enter"], 8, {repeat: true}).pop(), "");
  assert.equal(typed([..."LF2-0", "Tab", "Enter"], 8).pop(), "");
});

test("scan: the code of a sheet is the name of a run, a serial number is none", () => {
  assert.ok(is_run("2030-01-07-3"));
  for (const text of ["LF2-00417", "2030-01-07", "2030-01-07-", "x2030-01-07-3", ""]) assert.ok(!is_run(text), text);
});

test("scan: an Enter alone is the pedal's, also after a serial number", () => {
  assert.deepEqual(typed([..."LF2-00417", "Enter", "Enter"], 8).slice(-2), ["LF2-00417", ""]);
});

function bytes_of(buffer) { return buffer.buffer.slice(buffer.byteOffset, buffer.byteOffset + buffer.length); }

test("eye: its size, volts and density are read as they were sent", () => {
  const sent = made_up_eye({width: 40, height: 20, low_v: 0.5, high_v: 2.5, periods: 4});
  const frame = read_eye(bytes_of(sent));
  assert.deepEqual([frame.width, frame.height, frame.low_v, frame.high_v, frame.periods], [40, 20, 0.5, 2.5, 4]);
  assert.deepEqual(Buffer.from(frame.density), sent.subarray(20));
});

test("eye: bytes that are cut, too many, or of another kind are no eye", () => {
  const sent = made_up_eye({width: 40, height: 20});
  for (const wrong
           of [sent.subarray(0, 10), sent.subarray(0, 700), Buffer.concat([sent, Buffer.alloc(1)]),
               Buffer.concat([Buffer.from("EYE2"), sent.subarray(4)])]) {
    assert.equal(read_eye(bytes_of(Buffer.from(wrong))), null);
  }
});

test("eye: no density is the ground, the most is the ink", () => {
  const pixels = new Uint8ClampedArray(8);
  pixels_of({density: new Uint8Array([0, 255])}, ramp([250, 251, 252], [1, 2, 3]), pixels);
  assert.deepEqual([...pixels], [250, 251, 252, 255, 1, 2, 3, 255]);
});

test("jobs: each stands under one heading, in the order in which it came", () => {
  const states = ["under way", "waiting", "waiting", "interrupted", "refused", "done", "withdrawn"];
  const sorted = Object.fromEntries(sorted_out(states.map((state, id) => ({id, state}))));
  assert.deepEqual(Object.values(sorted).flat().length, states.length);
  assert.deepEqual(sorted.waiting.map((job) => job.id), [1, 2]);
  assert.deepEqual(sorted.ended.map((job) => job.id), [4, 5, 6]);
});

test("jobs: what was left empty is not sent", () => {
  const fields = {
    bench: "b",
    sequence: "s.yaml",
    serial: " LF2-00417 ",
    model: "",
    priority: "3",
    set: {target: " 1.20 V ", ceiling: " "}
  };
  assert.deepEqual(
      new_job(fields, "me"),
      {bench: "b", sequence: "s.yaml", serial: "LF2-00417", priority: 3, set: {target: "1.20 V"}, by: "me"});
});

test("jobs: a sequence is named without its folder and ending", () => {
  assert.equal(sequence_name("ready/pickup-level.yaml"), "pickup-level");
  assert.equal(sequence_name("mine"), "mine");
});
