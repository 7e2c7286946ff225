// SPDX-License-Identifier: Apache-2.0
// What was measured: the newest runs, or those of one unit.
import {get} from "./api.js";
import {element, field, link, show_in} from "./dom.js";
import {moment_text} from "./numbers.js";
import {Poll} from "./poll.js";
import {hash_of} from "./route.js";
import {outcome_text, room_sentences} from "./words.js";

const every_ms = 5000;
const at_most = 50;

export class RecordsView {
  constructor(page, serial) {
    this.page = page;
    const say = page.say;
    page.title(say("records.title"));
    const input = element("input", {
      id: "serial",
      name: "serial",
      type: "search",
      value: serial,
      autocomplete: "off",
      autocapitalize: "characters",
      spellcheck: "false"
    });
    const form = element(
        "form", {
          class: "search",
          role: "search",
          submit: (event) => {
            event.preventDefault();
            const wanted = input.value.trim();
            location.hash = hash_of("records", "", wanted === "" ? {} : {serial: wanted});
          },
        },
        field(say("records.serial"), input), element("button", {type: "submit"}, say("records.find")));
    this.list = element("div", {tabindex: -1});
    this.room = element("p", {class: "hint"});
    const heading = serial === "" ? say("records.newest") : say("records.of", {serial});
    this.node = element(
        "div", {class: "records"}, element("h1", {tabindex: -1}, say("records.title")), form,
        element("h2", {}, heading), this.list, this.room);
    const query = new URLSearchParams({at_most, ...(serial === "" ? {} : {serial})});
    this.poll = new Poll(
        page, () => Promise.all([get(`/runs?${query}`), get("/retention")]),
        ([{runs}, retention]) => this.told(runs, retention), every_ms);
  }

  close() { this.poll.close(); }

  told(runs, retention) {
    const say = this.page.say;
    this.room.textContent = room_sentences(say, retention).join(" ");
    show_in(this.list, runs, () => {
      if (runs.length === 0) return element("p", {}, say("records.none"));
      return element(
          "ul", {class: "runs"},
          ...runs.map(
              (r) => element(
                  "li", {},
                  link([r.serial, r.sequence].filter((s) => s).join(", "), hash_of("run", r.run), {id: `run-${r.run}`}),
                  element(
                      "span", {class: "outcome", "data-judgement": r.judgement ?? "none"},
                      outcome_text(say, r.ended, r.judgement)),
                  element(
                      "span", {class: "hint"},
                      [moment_text(say.locale, r.begun_utc), r.bench, r.run].filter((s) => s).join(" · ")))));
    });
  }
}
