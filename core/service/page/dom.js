// SPDX-License-Identifier: Apache-2.0
// Elements without markup: everything shown is put in as text, so that nothing from outside becomes markup.

const svg_names = new Set(["svg", "rect", "line", "path", "pattern", "defs", "g", "title"]);

// An element; properties that are functions become listeners, `false`, null and undefined are left out.
export function element(name, properties = {}, ...children) {
  const made =
      svg_names.has(name) ? document.createElementNS("http://www.w3.org/2000/svg", name) : document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (value === false || value === null || value === undefined) continue;
    if (typeof value === "function")
      made.addEventListener(key, value);
    else
      made.setAttribute(key, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== ""));
  return made;
}

// Puts new content into a place only when what it shows has changed, so that focus and what was typed stay. Where the
// focus had been inside and its element is gone, it goes to the place itself.
export function show_in(place, shown, build) {
  const key = JSON.stringify(shown);
  if (place.shown_key === key) return false;
  place.shown_key = key;
  const had_focus = place.contains(document.activeElement) && document.activeElement !== place;
  const focus_id = had_focus ? document.activeElement.id : "";
  const made = build();
  place.replaceChildren(...(Array.isArray(made) ? made : [made]).filter((child) => child !== null));
  if (had_focus) {
    const again = focus_id === "" ? null : document.getElementById(focus_id);
    (again ?? place).focus({preventScroll: true});
  }
  return true;
}

// A button that a mouse has pressed does not keep the focus: the pedal would press it again.
export function button(label, pressed, properties = {}) {
  const made = element("button", {type: "button", ...properties}, label);
  made.addEventListener("click", (event) => {
    if (event.detail > 0) made.blur();
    pressed(event);
  });
  return made;
}

export function link(label, hash, properties = {}) { return element("a", {href: hash, ...properties}, label); }

export function field(label, input, hint = "") {
  const parts = [element("label", { for: input.id
  }, label)];
  if (hint !== "") {
    input.setAttribute("aria-describedby", `${input.id}-hint`);
    parts.push(input, element("p", {id: `${input.id}-hint`, class: "hint"}, hint));
  } else {
    parts.push(input);
  }
  return element("div", {class: "field"}, ...parts);
}
