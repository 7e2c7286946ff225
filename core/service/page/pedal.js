// SPDX-License-Identifier: Apache-2.0
// Which pressed keys say "done" to the question at hand. A pedal is a keyboard with one key; which one it sends
// differs.

const always = ["Space", "Enter", "NumpadEnter", "PageDown"];
const learnt_never = ["Tab", "Escape"];

// A pedal that bounces, or a foot that is slow, must not answer the next question too.
export const quiet_ms = 400;

// `key`: { code, repeat, ctrl, alt, meta }; `place`: what has the focus: "page", "control" (a link, a button: there
// space and Enter have their own meaning) or "typing" (a field: every key belongs to it).
export function is_pedal(key, place, own_code) {
  if (key.repeat || key.ctrl || key.alt || key.meta || place === "typing") return false;
  if (own_code !== "" && key.code === own_code) return true;
  if (!always.includes(key.code)) return false;
  return place === "page" || key.code === "PageDown";
}

export function may_be_learnt(code) { return code !== "" && !learnt_never.includes(code); }
