// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {test} from "node:test";

import {place_on_band, word_of, zones} from "../../../../core/service/page/band.js";

test("band: the word is said only when the whole interval agrees", () => {
  assert.equal(word_of(1.2, 0.02, 1.08, 1.32), "in");
  assert.equal(word_of(1.0, 0.02, 1.08, 1.32), "low");
  assert.equal(word_of(1.4, 0.02, 1.08, 1.32), "high");
  assert.equal(word_of(1.07, 0.02, 1.08, 1.32), "near");
  assert.equal(word_of(1.31, 0.02, 1.08, 1.32), "near");
});

test("band: without an uncertainty the value alone decides; on the limit is inside", () => {
  assert.equal(word_of(1.08, null, 1.08, 1.32), "in");
  assert.equal(word_of(1.0799, null, 1.08, 1.32), "low");
});

test("band: one limit has one side, none has no word", () => {
  assert.equal(word_of(5, 0.1, null, 10), "in");
  assert.equal(word_of(11, 0.1, null, 10), "high");
  assert.equal(word_of(-5, 0.1, 0, null), "low");
  assert.equal(word_of(5, 0.1, null, null), "none");
  assert.deepEqual(zones(null, 10).map((z) => z.word), ["in", "high"]);
  assert.deepEqual(zones(0, null).map((z) => z.word), ["low", "in"]);
  assert.deepEqual(zones(null, null), []);
});

test("band: the limits stand at the ends of the middle zone", () => {
  assert.equal(place_on_band(1.08, null, 1.08, 1.32).at, 0.25);
  assert.ok(Math.abs(place_on_band(1.32, null, 1.08, 1.32).at - 0.75) < 1e-12);
  assert.ok(Math.abs(place_on_band(1.2, null, 1.08, 1.32).at - 0.5) < 1e-12);
  for (const [low, high] of [[null, 10], [0, null], [null, 0], [-3, null]]) {
    const border = zones(low, high)[0].share;
    assert.ok(Math.abs(place_on_band(low ?? high, null, low, high).at - border) < 1e-12, `${low} ${high}`);
  }
});

test("band: beyond its end the mark is held there and says so; the interval is held too", () => {
  assert.deepEqual(place_on_band(0.2, 0.02, 1.08, 1.32), {at: 0, from: 0, to: 0, off: "low"});
  assert.deepEqual(place_on_band(9, 0.02, 1.08, 1.32), {at: 1, from: 1, to: 1, off: "high"});
});

test("band: the share of all zones is the whole band", () => {
  for (const [low, high] of [[1, 2], [null, 2], [1, null]])
    assert.equal(zones(low, high).reduce((sum, z) => sum + z.share, 0), 1);
});
