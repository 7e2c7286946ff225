// SPDX-License-Identifier: Apache-2.0
// The form for a new job: bench, sequence, unit, model, priority, and what the sequence asks at its start.
import {get, post} from "./api.js";
import {element, field} from "./dom.js";
import {new_job} from "./jobs.js";
import {settings} from "./settings.js";
import {time_text} from "./words.js";

function select(id, options, chosen) {
  return element(
      "select", {id, name: id},
      ...options.map(([value, label]) => element("option", {value, selected: value === chosen}, label)));
}

function text_input(id, more = {}) {
  return element("input", {id, name: id, type: "text", autocomplete: "off", spellcheck: "false", ...more});
}

// What the sequence says of itself before it is queued: how long, how long the laser is lit, its sentences.
function sequence_about(say, explained) {
  const laser = explained.laser_lit.likely_s > 0 ?
      ` ${say("queue.laser", {time: time_text(say, explained.laser_lit.likely_s)})}` :
      "";
  return [
    element("p", {lang: "en"}, explained.about),
    element("p", {class: "hint"}, say("queue.likely", {time: time_text(say, explained.duration.likely_s)}) + laser)
  ];
}

function asked_field(say, asked) {
  const hints = [
    asked.about, asked.usual ? say("queue.usual", {usual: asked.usual}) : "",
    asked.allowed ? say("queue.allowed", {allowed: asked.allowed}) : ""
  ];
  return field(
      asked.name,
      text_input(`set-${asked.name}`, {"data-asked": asked.name, required: !asked.usual, placeholder: asked.usual}),
      hints.filter((h) => h !== "").join("; "));
}

function job_of(form, by) {
  const fields = Object.fromEntries(
      ["bench", "sequence", "serial", "model", "priority"].map((name) => [name, form.elements[name].value]));
  const set =
      Object.fromEntries([...form.querySelectorAll("[data-asked]")].map((input) => [input.dataset.asked, input.value]));
  return new_job({...fields, set}, by);
}

// `known`: { benches, sequences, models, bench }; `added(job)` hears of the job that the daemon took.
export function job_form(page, known, added) {
  const say = page.say;
  const about = element("div", {class: "about"});
  const sequences = select("sequence", known.sequences.map((s) => [s.file, s.name]));
  const models = [["", say("queue.no_model")], ...known.models.map((m) => [m.file, m.model])];
  const explain = async () => {
    const file = sequences.value;
    about.replaceChildren();  // what another sequence asks is not asked any more
    const explained = await page.attempt(() => get(`/sequences/sentences?${new URLSearchParams({file})}`));
    if (explained === undefined || sequences.value !== file) return;
    about.replaceChildren(
        ...sequence_about(say, explained), ...(explained.asked_at_start ?? []).map((asked) => asked_field(say, asked)));
  };
  sequences.addEventListener("change", explain);
  if (known.sequences.length > 0) explain();
  const submit = async (event) => {
    event.preventDefault();
    const form = event.target;
    const job = await page.attempt(() => post("/jobs", job_of(form, settings.by || "at the bench")));
    if (job === undefined) return;
    form.elements.serial.value = "";
    added(job);
  };
  return element(
      "form", {class: "job-form", submit},
      field(say("queue.bench"), select("bench", known.benches.map((name) => [name, name]), known.bench)),
      field(say("queue.sequence"), sequences), about,
      field(say("records.serial"), text_input("serial", {autocapitalize: "characters"})),
      field(say("queue.model"), select("model", models)),
      field(
          say("queue.priority"),
          element("input", {id: "priority", name: "priority", type: "number", step: 1, value: 0, required: true})),
      element("button", {type: "submit", class: "choice"}, say("queue.add")));
}
