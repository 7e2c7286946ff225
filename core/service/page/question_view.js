// SPDX-License-Identifier: Apache-2.0
// The question that the bench asks, big, with its one button; or what its kind of answer needs. `send(answer)` gives
// the answer to the daemon.
import {button, element, field} from "./dom.js";
import {quiet_ms} from "./pedal.js";
import {time_text} from "./words.js";

// What the question is answered with when the pedal is pressed: only "done" is a matter of one key.
export function pedal_button(place) { return place.querySelector("button.the-one"); }

// A second press of a mouse or pedal that bounces must not answer the question that came after the first.
function quiet_at_first(made) {
  made.disabled = true;
  setTimeout(() => {
    made.disabled = false;
  }, quiet_ms);
  return made;
}

function one_button(say, question, send) {
  const label = say(question.start ? "question.start" : "question.done");
  const made = quiet_at_first(button(label, () => send("done"), {class: "the-one", id: "answer"}));
  return element("div", {class: "answers"}, made, element("p", {class: "hint"}, say("question.pedal")));
}

function buttons(choices, send) {
  const made = choices.map(
      ([answer, label], i) => quiet_at_first(button(label, () => send(answer), {class: "choice", id: `answer-${i}`})));
  return element("div", {class: "answers"}, ...made);
}

function form(say, question, send, key, more) {
  const hints =
      [question.allowed ? say("question.allowed", {allowed: question.allowed}) : "", more].filter((s) => s !== "");
  const input = element("input", {
    id: "answer",
    name: "answer",
    type: "text",
    autocomplete: "off",
    autocapitalize: "off",
    spellcheck: "false",
    required: true
  });
  const made = element(
      "form", {
        class: "answers",
        submit: (event) => {
          event.preventDefault();
          send(input.value.trim());
        },
      },
      field(say(key), input, hints.join(". ")),
      element("button", {type: "submit", class: "choice"}, say("question.send")));
  return made;
}

function answers(say, question, send) {
  switch (question.wants) {
    case "yes or no": return buttons([["yes", say("question.yes")], ["no", say("question.no")]], send);
    case "one of": return buttons(question.choices.map((choice) => [choice, choice]), send);
    case "a value": return form(say, question, send, "question.value", say("question.point"));
    case "a code": return form(say, question, send, "question.code", "");
    case "a text": return form(say, question, send, "question.text", "");
    case "a file": return element("p", {class: "again"}, say("question.file"));
    default: return one_button(say, question, send);
  }
}

export function cautions_list(say, cautions) {
  if (cautions.length === 0) return null;
  return element(
      "section", {class: "cautions", "aria-label": say("bench.cautions")}, element("h2", {}, say("bench.cautions")),
      element("ul", {}, ...cautions.map((c) => element("li", {}, c))));
}

// `why_not`: why it is not answered from here, as a sentence; "" where it is.
export function question_view(say, question, cautions, send, why_not) {
  const within = question.within_s === null ? "" : say("question.within", {time: time_text(say, question.within_s)});
  return element(
      "div", {class: "question"}, question.start ? cautions_list(say, cautions) : null,
      element("h2", {class: "prompt"}, question.text),
      question.again ? element("p", {class: "again", role: "alert"}, question.again) : null,
      why_not === "" ? answers(say, question, send) : element("p", {class: "now"}, why_not),
      within === "" ? null : element("p", {class: "hint"}, within));
}
