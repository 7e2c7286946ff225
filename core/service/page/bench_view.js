// SPDX-License-Identifier: Apache-2.0
// The bench view: one thing at a time, big, for someone three metres away; below and beside it the level and the
// sequence. Each part of the page is made anew only when what it shows has changed (show_in).
import {may, why_not_answered} from "./access.js";
import {feed_address, get, path_of, post} from "./api.js";
import {button, element, link, show_in} from "./dom.js";
import {read_eye} from "./eye_frame.js";
import {Feed} from "./feed.js";
import {level_view} from "./level_view.js";
import {count_text} from "./numbers.js";
import {cautions_list, pedal_button, question_view} from "./question_view.js";
import {present_sentence, recipe_of} from "./recipe.js";
import {hash_of} from "./route.js";
import {settings} from "./settings.js";
import {controls_of, nothing_known, resume_query, stage_of, with_feed, with_message} from "./state.js";
import {end_quote, end_sentence} from "./words.js";

const labels = {
  "pause": "bench.pause",
  "go-on": "bench.go_on",
  "stop-after-step": "bench.stop_after",
  "stop": "bench.stop"
};

function problem_stage(say, trouble) {
  return element(
      "div", {class: "trouble"}, element("h2", {class: "prompt"}, say("bench.trouble")),
      element("p", {class: "now"}, trouble.message),
      trouble.advice ? element("p", {class: "now"}, say("error.try", {advice: trouble.advice})) : null,
      trouble.where ? element("p", {class: "hint"}, say("error.where", {where: trouble.where})) : null);
}

function unit_text(say, {serial, sequence}) {
  return [serial ? say("bench.unit", {serial}) : "", sequence].filter((s) => s).join(", ");
}

// The way to a new job, for who may ask for one.
function job_link(say, bench, may_queue) {
  return may_queue ? link(say("bench.queue_job"), hash_of("queue", "", {bench: bench.name})) : "";
}

function ended_stage(say, bench, state, may_queue) {
  const last = bench.last;
  const readings = state.run === last.run ? state.readings : [];
  const quote = end_quote(say, last);
  return element(
      "div", {class: "ended"}, element("p", {class: "seen"}, unit_text(say, last)),
      element("p", {class: "prompt"}, end_sentence(say, last, readings)),
      quote ? element("p", {class: "now", lang: "en"}, quote) : null,
      element(
          "p", {class: "next"}, link(say("bench.see_run"), hash_of("run", last.run)), " ",
          job_link(say, bench, may_queue)));
}

function idle_stage(say, bench, may_queue) {
  return element(
      "div", {}, element("p", {class: "prompt"}, say("bench.idle")),
      may_queue ? element("p", {class: "hint"}, say("bench.scan")) : null,
      element("p", {class: "next"}, job_link(say, bench, may_queue)));
}

function paused_stage(say, why_not) {
  if (why_not === "") return element("p", {class: "prompt"}, say("bench.paused"));
  return element(
      "div", {}, element("p", {class: "prompt"}, say("bench.paused_elsewhere")), element("p", {class: "now"}, why_not));
}

function now_stage(say, bench, state) {
  const sentence = present_sentence(bench.sequence?.sentences ?? [], bench.here);
  return element(
      "div", {}, element("p", {class: "now", lang: sentence === "" ? null : "en"}, sentence || say("bench.begins")),
      state.seen === "" ? null : element("p", {class: "seen"}, say("event.seen", {what: state.seen})));
}

function recipe_card(say, sequence, here, reached, with_cautions) {
  const line = (l) => element(
      "li",
      {class: `line line-${l.state} depth-${Math.min(l.depth, 4)}`, "aria-current": l.state === "here" ? "step" : null},
      element("span", {class: "line-mark"}, say(`recipe.${l.state}`)),
      element("span", {class: "line-number"}, l.number === "" ? "" : `${l.number}.`),
      element("span", {class: "line-text", lang: "en"}, l.text));
  return [
    element("h2", {id: "recipe-title"}, say("recipe")),
    element("p", {class: "hint"}, `${sequence.name}: ${sequence.about}`),
    with_cautions ? cautions_list(say, sequence.cautions) : null,
    ...recipe_of(sequence.sentences, here, new Set(reached))
        .map(
            (part) => element(
                "div", {class: "part"}, element("h3", {}, say(`recipe.${part.part}`)),
                element("ol", {}, ...part.lines.map(line)))),
  ];
}

export class BenchView {
  constructor(page, name) {
    this.page = page;
    this.name = name;
    this.state = nothing_known;
    this.due = null;
    this.answered = "";
    const say = page.say;
    this.title = element("h1", {tabindex: -1}, name);
    this.facts = element("p", {class: "facts"});
    this.stage = element("section", {class: "stage", "aria-label": say("bench.now"), tabindex: -1});
    this.controls = element("section", {class: "controls", "aria-label": say("bench.controls"), tabindex: -1});
    this.level = level_view(say);
    this.recipe = element("section", {class: "recipe", "aria-labelledby": "recipe-title", tabindex: 0, hidden: true});
    this.notes = element("div", {class: "notes"});
    this.main = element("div", {class: "bench-main"}, this.stage, this.level.node, this.notes, this.controls);
    this.node = element(
        "div", {class: "bench"}, element("div", {class: "bench-head"}, this.title, this.facts),
        element("div", {class: "bench-body"}, this.main, this.recipe));
    this.feed = new Feed({
      socket: () => new WebSocket(feed_address(name, resume_query(this.state))),
      later: (f, ms) => setTimeout(f, ms),
      never: (waiting) => clearTimeout(waiting),
      told: (data) => this.told(data),
      became: (feed) => this.became(feed),
    });
    this.draw();
  }

  close() { this.feed.close(); }

  told(data) {
    if (data instanceof ArrayBuffer) {
      const frame = read_eye(data);
      if (frame !== null) this.level.eye(frame);
      return;
    }
    const message = JSON.parse(data);
    const run = this.state.run;
    this.state = with_message(this.state, message, performance.now());
    if (this.state.run !== run) this.level.forget();
    const first_look = message.kind === "look" && this.level.node.hidden;
    if (message.kind === "look") this.level.look(message);
    if (message.kind !== "look" || first_look) this.draw_soon();
  }

  became(feed) {
    this.state = with_feed(this.state, feed);
    this.page.connection(feed);
    if (feed === "cut") this.level.blank();
    if (feed === "cut") this.ask_why();
    this.draw_soon();
  }

  // A feed that is cut does not say why: the daemon may be away, may have no such bench, or the viewer may look no
  // more. Only its answer tells. Who may not look is not let in by trying again.
  async ask_why() {
    try {
      await get(path_of("benches", this.name));
    } catch (problem) {
      if (problem.status === 0 || this.feed.closed) return;
      if (problem.status === 401 || problem.status === 403)
        this.page.ask_again();  // closes this view, and its feed
      else
        this.page.problem(problem);
    }
  }

  // Why nothing is answered from here, as a sentence; "" where it is.
  why_not() {
    const key = why_not_answered(this.page.session, this.name);
    return key === "" ? "" : this.page.say(key, {bench: this.name});
  }

  // Events come in bursts; what they change is drawn once. Not by the screen's clock, which a hidden page has not.
  draw_soon() {
    if (this.due !== null) return;
    this.due = setTimeout(() => {
      this.due = null;
      if (this.node.isConnected) this.draw();
    }, 0);
  }

  draw() {
    const {state, page: {say}} = this;
    const bench = state.bench;
    const stage = stage_of(state);
    this.draw_head(bench);
    const shown = {
      stage,
      trouble: bench?.trouble,
      question: bench?.question,
      here: bench?.here,
      last: bench?.last,
      seen: state.seen,
      readings: stage === "ended" ? state.readings : [],
      cautions: bench?.sequence?.cautions
    };
    show_in(this.stage, shown, () => this.stage_node(stage, bench));
    this.stage.dataset.stage = stage;
    if (bench !== null && bench.run === null) this.level.forget();  // a level belongs to its run
    this.main.classList.toggle("with-live", stage === "now" && !this.level.node.hidden);
    const controls = controls_of(bench, may(this.page.session, "operate"), this.why_not() === "");
    show_in(
        this.controls, controls,
        () => controls.map(
            (name) => button(
                say(labels[name]), () => this.page.attempt(() => post(path_of("benches", this.name, name))),
                {class: `control control-${name}`, id: name})));
    this.controls.hidden = controls.length === 0;
    this.draw_recipe(bench);
    show_in(this.notes, [state.missed, state.dropped], () => this.note_nodes());
    this.announce(stage, bench);
  }

  draw_head(bench) {
    const say = this.page.say;
    const facts = bench === null ? [] : [
      say(`state.${bench.state}`), bench.job?.serial ? say("bench.unit", {serial: bench.job.serial}) : "",
      bench.sequence?.name ?? ""
    ];
    const text = facts.filter((f) => f !== "").join(" · ");
    if (this.facts.textContent !== text) this.facts.textContent = text;
  }

  stage_node(stage, bench) {
    const say = this.page.say;
    const may_queue = may(this.page.session, "operate");
    switch (stage) {
      case "loading": return element("p", {class: "now"}, say("loading"));
      case "trouble": return problem_stage(say, bench.trouble);
      case "question":
        return question_view(
            say, bench.question, bench.sequence?.cautions ?? [], (answer) => this.answer(bench.question, answer),
            this.why_not());
      case "paused": return paused_stage(say, this.why_not());
      case "stopping": return element("p", {class: "prompt"}, say("bench.stopping"));
      case "now": return now_stage(say, bench, this.state);
      case "ended": return ended_stage(say, bench, this.state, may_queue);
      default: return idle_stage(say, bench, may_queue);
    }
  }

  draw_recipe(bench) {
    const sequence = bench?.sequence ?? null;
    this.recipe.hidden = sequence === null;
    this.main.parentElement.classList.toggle("alone", sequence === null);
    if (sequence === null) return;
    const with_cautions = !bench.question?.start;  // else they stand big above the question
    const changed = show_in(
        this.recipe, [sequence, bench.here, this.state.reached, with_cautions],
        () => recipe_card(this.page.say, sequence, bench.here, this.state.reached, with_cautions));
    // The present line stays in sight where the card scrolls by itself; the page is left where it is.
    const here = changed ? this.recipe.querySelector("[aria-current]") : null;
    if (here !== null) this.recipe.scrollTop = here.offsetTop - this.recipe.offsetTop - this.recipe.clientHeight / 3;
  }

  note_nodes() {
    const {say} = this.page;
    const {missed, dropped} = this.state;
    return [
      missed.length === 0 ?
          null :
          element("p", {}, say("feed.missed"), ...missed.flatMap((run) => [" ", link(run, hash_of("run", run))])),
      dropped === 0 ? null : element("p", {}, say("feed.dropped", {count: count_text(say.locale, dropped)})),
    ];
  }

  // Read aloud: a prompt, and the end of a run. Nothing else, least of all the level.
  announce(stage, bench) {
    const say = this.page.say;
    let words = "";
    if (stage === "question") {
      const cautions = bench.question.start ? bench.sequence?.cautions ?? [] : [];
      words = [...cautions, bench.question.again, bench.question.text, this.why_not()].filter((s) => s).join(". ");
    }
    if (stage === "ended") {
      const readings = this.state.run === bench.last.run ? this.state.readings : [];
      words = `${unit_text(say, bench.last)}: ${end_sentence(say, bench.last, readings)}`;
    }
    if (stage === "trouble") words = `${say("bench.trouble")}. ${bench.trouble.message}`;
    this.page.announce(words);
    this.page.title(stage === "question" ? `${bench.question.text} – ${this.name}` : this.name);
  }

  // Once for each time that it is asked: a press that comes twice before the daemon has reacted is one answer.
  async answer(question, answer) {
    const asked = `${question.number} ${question.again}`;
    if (this.answered === asked) return;
    this.answered = asked;
    const path = `${path_of("benches", this.name)}/answer`;
    const by = settings.by || "at the bench";
    const done = await this.page.attempt(() => post(path, {question: question.number, answer, by}));
    if (done === undefined) this.answered = "";  // not heard, or no answer: it may be given again
  }

  // The daemon says why, where it cannot be prepared now.
  async scan(serial) {
    if (!may(this.page.session, "operate")) return;
    const by = settings.by || "at the bench";
    await this.page.attempt(() => post(path_of("benches", this.name, "scan"), {serial, by}));
  }

  // True where the pedal meant something.
  pedal() {
    const one = pedal_button(this.stage);
    if (one === null) return false;
    if (!one.disabled) one.click();
    return true;
  }
}
