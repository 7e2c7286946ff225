// SPDX-License-Identifier: Apache-2.0
// A form with one button. `does(form)` may go wrong, which the page then says; where it went well the fields are as at
// first, `done` is said, and `then(answer)` hears of it.
import {element} from "./dom.js";

export function small_form(page, {id, label, fields, does, done, then = () => {}}) {
  const status = element("p", {role: "status", class: "hint"});
  const submit = async (event) => {
    event.preventDefault();
    status.textContent = "";
    const form = event.target;
    const answer = await page.attempt(() => does(form));
    if (answer === undefined) return;
    form.reset();
    status.textContent = done;
    then(answer);
  };
  return element(
      "form", {id, class: "small-form", submit}, ...fields, element("button", {type: "submit"}, label), status);
}

export function password_input(id, autocomplete) {
  return element("input", {id, name: id, type: "password", autocomplete, required: true});
}

export function name_input(id) {
  return element(
      "input",
      {id, name: id, type: "text", autocomplete: "off", autocapitalize: "none", spellcheck: "false", required: true});
}

export function section(id, heading, ...parts) {
  return element("section", {"aria-labelledby": `${id}-title`}, element("h2", {id: `${id}-title`}, heading), ...parts);
}
