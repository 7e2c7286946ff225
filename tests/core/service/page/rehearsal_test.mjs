// SPDX-License-Identifier: Apache-2.0
// What is ordered from a rehearsal, and its result in sentences.
import assert from "node:assert/strict";
import {test} from "node:test";

import {rehearsal_order, rehearsal_sentences} from "../../../../core/service/page/rehearsal.js";
import {speaker} from "../../../../core/service/page/words.js";

test("rehearsal: the form's texts become numbers, the rate a probability", () => {
  const form = {sequence: "a.yaml", model: "", units: "20", rate: "25", seed: "7", troubles: ["disc dirty"]};
  assert.deepEqual(
      rehearsal_order(form),
      {sequence: "a.yaml", model: "", units: 20, trouble_rate: 0.25, seed: 7, troubles: ["disc dirty"]});
});

const endings = {
  "pass": 1200,
  "fail": 2,
  "undecided": 0,
  "not judged": 0,
  "stopped": 1
};

test("rehearsal: how the units ended is a sentence in each language", () => {
  const result = {units: new Array(1203), endings, not_as_they_must: 0, wrong_passes: 0};
  assert.deepEqual(
      rehearsal_sentences(speaker("en"), result),
      ["1,203 units: 1,200 pass, 2 fail, 1 stopped.", "Every unit ended as it must."]);
  assert.equal(
      rehearsal_sentences(speaker("de"), result)[0], "1.203 Geräte: 1.200 im Bereich, 2 nicht im Bereich, 1 beendet.");
});

test("rehearsal: what did not end as it must is told, wrong passes too", () => {
  for (const [wrong, passes] of [[2, 0], [0, 3]]) {
    const result = {units: [], endings, not_as_they_must: wrong, wrong_passes: passes};
    assert.equal(
        rehearsal_sentences(speaker("en"), result)[1], `${wrong} did not end as they must, ${passes} passed wrongly.`);
  }
});
