// SPDX-License-Identifier: Apache-2.0
// A rehearsal: a sequence against simulated units, with troubles to switch on. No instrument is touched.
import {call, get, path_of, post} from "./api.js";
import {button, element, field, show_in} from "./dom.js";
import {count_text, value_text} from "./numbers.js";
import {Poll} from "./poll.js";
import {rehearsal_order, rehearsal_sentences} from "./rehearsal.js";
import {outcome_text} from "./words.js";

const every_ms = 500;

function select(id, options) {
  return element("select", {id, name: id}, ...options.map(([value, label]) => element("option", {value}, label)));
}

function number(id, value, min, max) {
  return element("input", {id, name: id, type: "number", value, min, max, step: 1, required: true});
}

function trouble_node(trouble, i) {
  const id = `trouble-${i}`;
  return element(
      "label", {class: "tick", for: id}, element("input", {id, type: "checkbox", "data-trouble": trouble.name}),
      element("span", {lang: "en"}, trouble.name), element("span", {class: "hint", lang: "en"}, trouble.about));
}

function reading_text(say, reading, truth) {
    const value = value_text(say.locale, reading.value, reading.expanded_uncertainty, reading.unit);
    const words = {name: reading.name, value};
    if (truth === undefined) return say("rehearsal.reading", words);
    return say("rehearsal.reading_truth", {...words, truth: value_text(say.locale, truth, null, reading.unit)});
}

function unit_node(say, unit) {
    const lines = [
      ...unit.readings.map((r) => element("span", {class: "hint"}, reading_text(say, r, unit.truth.readings[r.name]))),
      ...unit.truth.troubles.map((t) => element("span", {class: "hint", lang: "en"}, t)),
      ...unit.findings.map((f) => element("span", {class: "hint", lang: "en"}, `${f.cause}: ${f.because}`)),
      unit.error ? element("span", {class: "hint", lang: "en"}, unit.error.message) : null,
      unit.wrong ? element("span", {class: "again", lang: "en"}, unit.wrong) : null,
    ];
    return element(
        "li", {}, element("b", {}, unit.serial),
        element(
            "span", {class: "outcome", "data-judgement": unit.judgement ?? "none"},
            outcome_text(say, unit.ended, unit.judgement)),
        element("span", {class: "unit-lines"}, ...lines));
}

export class RehearsalView {
    constructor(page) {
      this.page = page;
      const say = page.say;
      page.title(say("rehearsal.title"));
      this.place = element("div", {});
      this.status = element("p", {role: "status"});
      this.deeds = element("p", {class: "next"});
      this.result = element("div", {tabindex: -1});
      this.node = element(
          "div", {class: "rehearsal"}, element("h1", {tabindex: -1}, say("rehearsal.title")),
          element("p", {}, say("rehearsal.about")), this.place, this.status, this.deeds, this.result);
      this.poll = null;
      this.load();
    }

    close() {
      this.poll?.close();
      this.closed = true;
    }

    async load() {
      const known =
          await this.page.ask(() => Promise.all(["/sequences", "/models", "/troubles"].map((path) => get(path))));
      if (known === undefined || this.closed) return;
      const [{sequences}, {models}, {troubles}] = known;
      this.place.replaceChildren(this.form(sequences, models, troubles));
    }

    form(sequences, models, troubles) {
      const say = this.page.say;
      const submit = (event) => {
        event.preventDefault();
        this.begin(event.target);
      };
      return element(
          "form", {class: "job-form", submit},
          field(say("queue.sequence"), select("sequence", sequences.map((s) => [s.file, s.name]))),
          field(
              say("queue.model"),
              select("model", [["", say("rehearsal.model_usual")], ...models.map((m) => [m.file, m.model])])),
          field(say("rehearsal.units"), number("units", 20, 1, 500)),
          field(say("rehearsal.rate"), number("rate", 0, 0, 100), say("rehearsal.rate_hint")),
          field(say("rehearsal.seed"), number("seed", 1, 0, 999999999), say("rehearsal.seed_hint")),
          element(
              "details", {class: "rights"}, element("summary", {}, say("rehearsal.troubles")),
              ...troubles.map(trouble_node)),
          element("button", {type: "submit", class: "choice"}, say("rehearsal.begin")));
    }

    async begin(form) {
      const values = Object.fromEntries(
          ["sequence", "model", "units", "rate", "seed"].map((name) => [name, form.elements[name].value]));
      const troubles = [...form.querySelectorAll("[data-trouble]:checked")].map((box) => box.dataset.trouble);
      const begun = await this.page.attempt(() => post("/rehearsals", rehearsal_order({...values, troubles})));
      if (begun === undefined || this.closed) return;
      this.poll?.close();
      this.show(begun);
      const at = path_of("rehearsals", begun.rehearsal);
      this.poll = new Poll(this.page, () => get(at), (one) => this.show(one), every_ms);
    }

    // False once there is nothing more to wait for.
    show(one) {
      const say = this.page.say;
      const is_under_way = one.state === "under way";
      const counts = {done: count_text(say.locale, one.done), units: count_text(say.locale, one.units)};
      this.status.textContent = is_under_way ? say("rehearsal.progress", counts) : "";
      show_in(this.deeds, {is_under_way, number: one.rehearsal}, () => is_under_way ? [this.stop_button(one)] : []);
      show_in(this.result, {number: one.rehearsal, state: one.state}, () => is_under_way ? [] : this.outcome(one));
      return is_under_way;
    }

    stop_button(one) {
      const stop = () => this.page.attempt(() => call("DELETE", path_of("rehearsals", one.rehearsal)));
      return button(this.page.say("rehearsal.stop"), stop, {id: "stop-rehearsal"});
    }

    outcome(one) {
      const say = this.page.say;
      if (one.result === null) return element("p", {class: "again", lang: "en"}, one.why);
      return [
        element("h2", {}, say("rehearsal.result")),
        ...rehearsal_sentences(say, one.result).map((words) => element("p", {}, words)),
        element("ul", {class: "runs units"}, ...one.result.units.map((unit) => unit_node(say, unit)))
      ];
    }
}
