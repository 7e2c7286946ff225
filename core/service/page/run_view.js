// SPDX-License-Identifier: Apache-2.0
// One run: how it ended, its readings with their limits, what happened in it, its sheet.
import {get, path_of} from "./api.js";
import {band} from "./band_view.js";
import {element, show_in} from "./dom.js";
import {count_text, moment_text, value_text} from "./numbers.js";
import {Poll} from "./poll.js";
import {end_sentence, judgement_text, limit_text, story_of, thinned_text} from "./words.js";

const every_ms = 2000;

function reading_node(say, r) {
  const expanded = r.expanded_uncertainty ?? null;
  const at_least = r.at_least ?? null;
  const at_most = r.at_most ?? null;
  const limits = limit_text(say, at_least, at_most, r.unit);
  const value = r.value === null ? "–" : value_text(say.locale, r.value, expanded, r.unit);
  const shown = limits === "" || r.value === null ? null : band(say, at_least, at_most);
  shown?.show(r.value, expanded);
  const count = (n) => count_text(say.locale, n);
  const facts = [
    limits === "" ? "" : say("band.limits", {limits}),
    r.tried > 0 ? say("run.of", {count: count(r.count), tried: count(r.tried)}) : ""
  ];
  return element(
      "li", {class: "reading"}, element("h3", {}, r.name), element("p", {class: "reading-value"}, value),
      element("p", {class: "reading-word", "data-judgement": r.judgement ?? "none"}, judgement_text(say, r.judgement)),
      shown?.node ?? null, element("p", {class: "hint"}, facts.filter((f) => f !== "").join(" · ")));
}

function answers_node(say, answers) {
  return element(
      "section", {"aria-labelledby": "answers-title"}, element("h2", {id: "answers-title"}, say("run.answers")),
      element("ul", {}, ...answers.map((a) => element("li", {}, `${a.name}: ${a.answer}`))));
}

function error_node(say, error) {
  return element(
      "section", {"aria-labelledby": "why-title"}, element("h2", {id: "why-title"}, say("run.why")),
      element("p", {}, error.message),
      error.where ? element("p", {class: "hint"}, say("error.where", {where: error.where})) : null,
      error.advice ? element("p", {}, say("error.try", {advice: error.advice})) : null);
}

export class RunView {
  constructor(page, run) {
    this.page = page;
    this.run = run;
    const say = page.say;
    page.title(say("run.title", {run}));
    this.end = element("div", {});
    this.readings = element("div", {});
    this.story = element("ol", {class: "story"});
    const sheet = `/api/1${path_of("runs", run)}/sheet`;
    this.sheet = element(
        "section", {"aria-labelledby": "sheet-title", hidden: true},
        element("h2", {id: "sheet-title"}, say("run.sheet")),
        element(
            "p", {class: "next"}, element("a", {href: `${sheet}.pdf`}, say("run.sheet_pdf")), " ",
            element("a", {href: `${sheet}.png`}, say("run.sheet_png"))),
        element("div", {class: "sheet"}));
    this.sheet_address = `${sheet}.svg`;
    this.node = element(
        "div", {class: "run"}, element("h1", {tabindex: -1}, say("run.title", {run})), this.end, this.readings,
        element("details", {class: "happened"}, element("summary", {}, say("run.happened")), this.story), this.sheet);
    this.poll = new Poll(
        page, () => Promise.all([get(path_of("runs", run)), get(`${path_of("runs", run)}/events`)]),
        (answer) => this.told(...answer), every_ms);
  }

  close() { this.poll.close(); }

  told(unit, {events}) {
    const say = this.page.say;
    const begun = events.find((event) => event.event === "begun");
    show_in(this.end, [unit, begun?.utc], () => {
      const facts = [
        unit.serial, begun?.body.sequence, begun === undefined ? "" : moment_text(say.locale, begun.utc), unit.model,
        begun?.body.bench
      ];
      return [
        element("p", {class: "now"}, end_sentence(say, unit)),
        element("p", {class: "facts"}, facts.filter((f) => f).join(" · ")),
        unit.thinned_out ? element("p", {class: "hint"}, thinned_text(say, unit.thinned_out)) : null,
        unit.error ? error_node(say, unit.error) : null,
        unit.answers.length > 0 ? answers_node(say, unit.answers) : null
      ];
    });
    show_in(
        this.readings, unit.readings,
        () =>
            [element("h2", {}, say("run.readings")),
             unit.readings.length === 0 ?
                 element("p", {}, say("run.no_readings")) :
                 element("ul", {class: "readings"}, ...unit.readings.map((r) => reading_node(say, r)))]);
    const story = story_of(say, events);
    show_in(this.story, story, () => story.map((line) => element("li", {}, line.sentence)));
    const closed = events.some((event) => event.event === "closed");
    if (closed && this.sheet.hidden) {
      this.sheet.hidden = false;
      const picture =
          element("img", {src: this.sheet_address, alt: say("run.sheet_of", {run: this.run}), loading: "lazy"});
      this.sheet.querySelector(".sheet").replaceChildren(picture);
    }
    return !closed;
  }
}
