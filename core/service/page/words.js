// SPDX-License-Identifier: Apache-2.0
// Sentences about a run in the language of the page: its end, its limits, what happened in it. `say` is text() of
// texts.js with the language filled in; `say.language` and `say.locale` name it.
import {count_text, date_text, edge_text, moment_text, time_parts, value_text} from "./numbers.js";
import {text} from "./texts.js";

// `locale`: how numbers and dates are written, such as en-GB.
export function speaker(language, locale = language) {
  const say = (key, values) => text(language, key, values);
  say.language = language;
  say.locale = locale;
  return say;
}

export function limit_text(say, at_least, at_most, unit) {
  const low = at_least === null ? "" : edge_text(say.locale, at_least, unit);
  const high = at_most === null ? "" : edge_text(say.locale, at_most, unit);
  if (low !== "" && high !== "") return say("limit.both", {low, high});
  if (low !== "") return say("limit.at_least", {low});
  return high === "" ? "" : say("limit.at_most", {high});
}

export function time_text(say, seconds) {
  const parts = time_parts(say.locale, seconds);
  return say(parts.key, {count: parts.count});
}

const days_of_week = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];

// When jobs of a schedule come, { at, on }, by the clock on the daemon's wall.
export function when_text(say, {at, on}) {
  if (on.length === days_of_week.length) return say("schedule.daily", {time: at});
  const name = new Intl.DateTimeFormat(say.language, {weekday: "short", timeZone: "UTC"});
  // The 7th of January 2030 is a Monday.
  const days = on.map((day) => name.format(new Date(Date.UTC(2030, 0, 7 + days_of_week.indexOf(day)))));
  return say("schedule.days", {days: days.join(", "), time: at});
}

export function judgement_text(say, judgement) { return say(`judgement.${judgement ?? "none"}`); }

// "finished" and its judgement, "stopped", or under way: in one word or two.
export function outcome_text(say, ended, judgement) {
  if (ended === "finished") return judgement_text(say, judgement);
  return say(ended === "stopped" ? "ended.stopped" : "ended.open");
}

// When the calibration of an instrument is due; `over` once that is behind `today` (YYYY-MM-DD).
export function calibration(say, due, today) {
  if (!due) return {words: say("benches.calibration_none"), over: false};
  const over = due < today;  // dates as YYYY-MM-DD sort as text
  return {
    words: say(over ? "benches.calibration_over" : "benches.calibration_due", {date: date_text(say.locale, due)}),
    over
  };
}

// How an instrument was when it was met last: [words]; `bad` where it needs somebody.
export function health(say, told) {
  if (told === null) return {words: [say("benches.not_asked")], bad: false};
  const asked = moment_text(say.locale, told.asked_utc);
  const words =
      [told.answers ? say("benches.answers", {identity: told.identity, when: asked}) :
                      say("benches.silent", {when: asked})];
  if (!told.answers && told.seen_utc !== null)
    words.push(say("benches.seen", {when: moment_text(say.locale, told.seen_utc)}));
  if (told.trouble !== null) words.push(told.trouble.message);
  return {words, bad: !told.answers || told.trouble !== null};
}

// The last proof of a bench.
export function proof_text(say, proof) {
  if (proof === null || proof.run === null) return say("benches.proof_none");
  const when = moment_text(say.locale, proof.at_utc);
  if (proof.judgement !== "pass") return say("benches.proof_failed", {when});
  return say(proof.old ? "benches.proof_old" : "benches.proven", {when});
}

// How a run ended, as a sentence. `end`: { ended, judgement, sentence? }; `readings` as the API gives
// them, may be empty. The daemon's own sentence is English; another language says it in its own words.
export function end_sentence(say, end, readings = []) {
  if (say.language === "en" && end.sentence) return end.sentence;
  if (end.ended !== "finished") return say(end.ended === "stopped" ? "end.stopped" : "end.open");
  const sentence = say(`end.${end.judgement ?? "none"}`);
  const telling = readings.filter((r) => r.judgement !== null && r.judgement === end.judgement).slice(0, 2);
  return [sentence, ...telling.map((r) => reading_sentence(say, r))].join(" ");
}

// Why a run stopped is known to the daemon alone, so that its words are quoted where the sentence is not its own.
export function end_quote(say, end) {
  return say.language !== "en" && end.ended === "stopped" ? end.sentence ?? "" : "";
}

// A reading of the API and one of an event differ in where the uncertainty and the limit stand.
export function flat_reading(reading) {
  if (!reading.interval) return reading;
  return {
    ...reading,
    expanded_uncertainty: reading.interval.expanded_uncertainty,
    at_least: reading.limit?.at_least ?? null,
    at_most: reading.limit?.at_most ?? null,
    judgement: reading.judgement ?? null,
  };
}

function reading_sentence(say, reading) {
  const r = flat_reading(reading);
  const value = value_text(say.locale, r.value, r.expanded_uncertainty ?? null, r.unit);
  return say("end.reading", {name: r.name, value, limits: limit_text(say, r.at_least, r.at_most, r.unit)});
}

const values_of = {
  "begun": (say, b) => ({sequence: b.sequence, bench: b.bench}),
  "connected": (say, b) => ({role: b.instrument.role, identity: b.instrument.identity}),
  "waiting": (say, b) => ({what: b.what}),
  "prompted": (say, b) => ({text: b.text}),
  "answered": (say, b) => ({answer: b.answer, by: b.by}),
  "set": (say, b) => ({role: b.role, setting: b.setting, value: b.read_back || b.asked}),
  "seen": (say, b) => ({what: b.what}),
  "measured": (say, b) => {
    const r = flat_reading(b.reading);
    return {name: r.name, value: value_text(say.locale, r.value, r.expanded_uncertainty ?? null, r.unit)};
  },
  "judged": (say, b) => ({reading: b.reading, judgement: judgement_text(say, b.judgement)}),
  "proved": (say, b) => ({item: b.item, of: b.of, judgement: judgement_text(say, b.judgement)}),
  "aimed": (say, b) => (
      {reading: b.reading, least: edge_text(say.locale, b.least, b.unit), most: edge_text(say.locale, b.most, b.unit)}),
  "advised": (say, b) => ({turn: count_text(say.locale, b.turn), words: b.words}),
  "found": (say, b) => ({cause: b.cause, because: b.because}),
  "diagnosed": (say, b) => ({cause: b.findings.length ? b.findings[0].cause : ""}),
  "noted": (say, b) => ({text: b.text}),
  "enclosed": (say, b) => ({name: b.name, file: b.file_name}),
  "reached": () => ({}),
  "broken off": (say, b) => ({message: b.error.message}),
  "closed": () => ({}),
};

// What was thinned out of a run, { captures, kept, at_utc }.
export function thinned_text(say, thinned) {
  const count = (n) => count_text(say.locale, n);
  return say("run.thinned", {
    date: date_text(say.locale, thinned.at_utc.slice(0, 10)),
    count: count(thinned.captures),
    kept: count(thinned.kept)
  });
}

// By which rules old records make room, as the API gives it: sentences, none without rules.
export function room_sentences(say, {rules, next_utc, last, why_not}) {
  if (rules === null) return [];
  const days = (key, count) => count === null ? [] : [say(key, {days: count_text(say.locale, count)})];
  const failures = [why_not, ...last?.failures ?? []].filter((why) => why);
  return [
    ...days("records.thinned_after", rules.thin_out_after_days),
    ...days("records.archived_after", rules.archive_after_days),
    ...next_utc === null ? [] : [say("records.room_next", {when: moment_text(say.locale, next_utc)})],
    ...failures.map((why) => say("records.room_failed", {why}))
  ];
}

// What happened in a run: [{ utc, sentence }], the captures of one name in a row being one line.
export function story_of(say, events) {
  const lines = [];
  let group = null;
  for (const event of events) {
    if (event.event === "captured") {
      if (group === null || group.name !== event.body.name) {
        group = {utc: event.utc, name: event.body.name, kept: 0, tried: 0};
        lines.push(group);
      }
      group.tried += 1;
      group.kept += event.body.not_kept === "" ? 1 : 0;
      continue;
    }
    group = null;
    const values = values_of[event.event];
    // A kind of event that is younger than this page is named as the daemon names it.
    lines.push({utc: event.utc, sentence: values ? say(`event.${event.event}`, values(say, event.body)) : event.event});
  }
  const count = (n) => count_text(say.locale, n);
  return lines.map((line) => line.sentence !== undefined ? line : {
    utc: line.utc,
    sentence: say("event.captured", {name: line.name, kept: count(line.kept), tried: count(line.tried)}),
  });
}
