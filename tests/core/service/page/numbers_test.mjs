// SPDX-License-Identifier: Apache-2.0
// Expected texts: as core/report/words.cpp writes them, the decimal sign that of the language.
import assert from "node:assert/strict";
import {test} from "node:test";

import {date_text, edge_text, share_text, time_parts, value_parts, value_text} from "../../../../core/service/page/numbers.js";

test("numbers: a value has as many places as its uncertainty has with two digits", () => {
  assert.equal(value_text("en", 0.9592336, 0.0198, "V"), "0.959\u00a0V ± 0.020\u00a0V");
  assert.equal(value_text("en", 1.2, 0.21, "V"), "1.20\u00a0V ± 0.21\u00a0V");
});

test("numbers: German writes a comma and the same no-break space", () => {
  assert.equal(value_text("de", 0.9592336, 0.0198, "V"), "0,959\u00a0V ± 0,020\u00a0V");
  assert.equal(edge_text("de", 1.08, "V"), "1,08\u00a0V");
});

test("numbers: shares are whole per cent, written as the language does", () => {
  assert.equal(share_text("en", 0.618), "62%");
  assert.equal(share_text("de", 0.618), "62\u00a0%");
});

test("numbers: small voltages are said in millivolts, but not in a live number", () => {
  assert.equal(value_text("en", -0.0412, 0.0123, "V"), "-41\u00a0mV ± 12\u00a0mV");
  assert.equal(value_parts("en", 0.0412, 0.0123, "V", true).number, "0.041\u00a0V");
});

test("numbers: without an uncertainty four digits, and nothing after", () => {
  assert.deepEqual(value_parts("en", 1.23456, null, "V"), {number: "1.235\u00a0V", uncertainty: ""});
});

test("numbers: a pure number has no unit, an edge keeps its digits", () => {
  assert.equal(value_text("en", 10.02, 0.12, "1"), "10.02 ± 0.12");
  assert.equal(edge_text("en", 1.0001, "1"), "1.0001");
});

test("numbers: no grouping, which a comma or a point would be taken for", () => {
  assert.equal(value_text("de", 12345.6, 1.2, "Hz"), "12345,6\u00a0Hz ± 1,2\u00a0Hz");
});

test("numbers: a length of time in the unit that suits it", () => {
  assert.deepEqual(time_parts("en", 45), {key: "time.s", count: "45"});
  assert.deepEqual(time_parts("en", 600), {key: "time.min", count: "10"});
  assert.deepEqual(time_parts("de", 28259), {key: "time.h", count: "7,8"});
});

test("numbers: a date is the same in every time zone; what is none stays", () => {
  assert.equal(date_text("en", "2030-06-30"), "Jun 30, 2030");
  assert.equal(date_text("de", "2030-06-30"), "30.06.2030");
  assert.equal(date_text("de", "soon"), "soon");
});
