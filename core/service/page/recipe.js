// SPDX-License-Identifier: Apache-2.0
// The running sequence as sentences: which of them is the present one. The words for where a sentence lies are those of
// a step: behind, here, ahead.

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

// The sentences by part, each with its state: [{ part, lines: [{ number, depth, text, state }] }].
export function recipe_of(sentences, here) {
  const index = index_of_here(sentences, here);
  const parts = [];
  sentences.forEach((s, i) => {
    const state = index < 0 || i > index ? "ahead" : i === index ? "here" : "behind";
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
