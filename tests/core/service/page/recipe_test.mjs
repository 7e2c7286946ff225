// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {test} from "node:test";

import {place_key, present_sentence, recipe_of} from "../../../../core/service/page/recipe.js";

const sentence = (part, number, line, more = {}) =>
    ({part, number, line, depth: 0, text: `${part} ${line}`, file: "", ...more});
const sentences = [
  sentence("opening", "1", 19),
  sentence("steps", "1", 26),
  sentence("steps", "2", 28),
  sentence("steps", "", 28, {text: "if it does not come about"}),
  sentence("steps", "", 4, {file: "parts/drift.yaml", depth: 1}),
  sentence("closing", "1", 42),
];
const states = (here) => recipe_of(sentences, here).flatMap((part) => part.lines.map((line) => line.state));

test("recipe: what the run came to is behind, what it passed by is left out, what comes is ahead", () => {
  const reached = new Set([sentences[0], sentences[1], sentences[2]].map(place_key));
  const here = {part: "closing", number: 1, file: "", line: 42};
  const states = recipe_of(sentences, here, reached).flatMap((part) => part.lines.map((line) => line.state));
  assert.deepEqual(states, ["behind", "behind", "behind", "left_out", "left_out", "here"]);
});

test("recipe: what is done otherwise is behind once something under it was come to", () => {
  const here = {part: "closing", number: 1, file: "", line: 42};
  const lines =
      recipe_of(sentences, here, new Set([sentences[2], sentences[4]].map(place_key))).flatMap((part) => part.lines);
  assert.deepEqual(lines.map((line) => line.state), ["left_out", "left_out", "behind", "behind", "behind", "here"]);
});

test("recipe: of two sentences on one line the step itself is the present one", () => {
  assert.equal(present_sentence(sentences, {part: "steps", number: 2, file: "", line: 28}), "steps 28");
});

test("recipe: a step inside a part's file is found by its file", () => {
  assert.equal(present_sentence(sentences, {part: "steps", number: 3, file: "parts/drift.yaml", line: 4}), "steps 4");
  assert.equal(present_sentence(sentences, {part: "steps", number: 3, file: "", line: 4}), "");
});

test("recipe: before the start, and at a place that is no sentence, all is ahead", () => {
  assert.ok(states(null).every((state) => state === "ahead"));
  assert.ok(states({part: "steps", number: 9, file: "", line: 99}).every((state) => state === "ahead"));
});

test("recipe: the sentences stand in their three parts", () => {
  assert.deepEqual(
      recipe_of(sentences, null).map((part) => [part.part, part.lines.length]),
      [["opening", 1], ["steps", 4], ["closing", 1]]);
});
