// SPDX-License-Identifier: Apache-2.0
// The running sequence as sentences: which of them is the present one. The words for where a sentence lies are those of
// a step: behind, here, ahead, left out.

// The index of the sentence under way, or -1. A place is told by part, file and line; where several sentences stand on
// one line (a step and what is done otherwise), the number says which, else the first of them is it.
export function index_of_here(sentences, here) {
  if (here === null) return -1;
  const at = sentences.map((s, i) => i)
                 .filter(
                     (i) => sentences[i].part === here.part && sentences[i].line === here.line &&
                         sentences[i].file === here.file);
  if (at.length === 0) return -1;
  return at.find((i) => sentences[i].number === String(here.number)) ?? at[0];
}

// Whether the run has come to the sentence at this index: to its own place, or to one of those that stand indented
// under it. Of two sentences on one line the second tells of what is done otherwise, which the line alone does not
// show.
function was_reached(sentences, index, reached) {
  const s = sentences[index];
  const before = sentences[index - 1];
  const is_second = before !== undefined && before.line === s.line && before.file === s.file && before.part === s.part;
  if (!is_second && reached.has(place_key(s))) return true;
  for (let i = index + 1; i < sentences.length && sentences[i].depth > s.depth; ++i) {
    if (reached.has(place_key(sentences[i]))) return true;
  }
  return false;
}

// A place as the key under which what was reached is remembered.
export function place_key({part, file, line}) { return `${part} ${line} ${file}`; }

// The sentences by part, each with its state: [{ part, lines: [{ number, depth, text, state }] }]. `reached`: the keys
// of the places that the run has come to; what was passed without that is left out.
export function recipe_of(sentences, here, reached = new Set()) {
  const index = index_of_here(sentences, here);
  const parts = [];
  sentences.forEach((s, i) => {
    const passed = was_reached(sentences, i, reached) ? "behind" : "left_out";
    const state = index < 0 || i > index ? "ahead" : i === index ? "here" : passed;
    if (parts.length === 0 || parts[parts.length - 1].part !== s.part) parts.push({part: s.part, lines: []});
    parts[parts.length - 1].lines.push({number: s.number, depth: s.depth, text: s.text, state});
  });
  return parts;
}

// The sentence of the present step, or "".
export function present_sentence(sentences, here) {
  const index = index_of_here(sentences, here);
  return index < 0 ? "" : sentences[index].text;
}
