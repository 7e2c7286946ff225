// SPDX-License-Identifier: Apache-2.0
// Rights to tick, and as words.
import {rights} from "./access.js";
import {element} from "./dom.js";

export function rights_text(say, some) {
  return rights.filter((right) => some.includes(right)).map((right) => say(`right.${right}`)).join(", ");
}

// `id`: of the group, unique on the page.
export function rights_field(say, id, offered, chosen) {
  const box = (right) => element(
      "label", {class: "tick"}, element("input", {
        type: "checkbox",
        name: "right",
        value: right,
        id: `${id}-${right}`,
        checked: chosen.includes(right),
        "aria-describedby": `${id}-${right}-hint`
      }),
      element("span", {}, say(`right.${right}`)),
      element("span", {class: "hint", id: `${id}-${right}-hint`}, say(`right.${right}_means`)));
  return element(
      "fieldset", {class: "rights"}, element("legend", {}, say("rights")),
      ...rights.filter((right) => offered.includes(right)).map(box));
}

export function rights_in(form) {
  return [...form.querySelectorAll("input[name=right]:checked")].map((box) => box.value);
}
