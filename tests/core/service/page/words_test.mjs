// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {test} from "node:test";

import {calibration, end_quote, end_sentence, health, limit_text, proof_text, room_sentences, speaker, story_of, thinned_text, when_text} from "../../../../core/service/page/words.js";

const en = speaker("en");
const de = speaker("de");
const end = {
  ended: "finished",
  judgement: "fail",
  sentence: "Finished, a limit is not met."
};
const reading = {
  name: "level_pressed",
  value: 0.9592,
  unit: "V",
  expanded_uncertainty: 0.0198,
  at_least: 1.08,
  at_most: 1.32,
  judgement: "fail"
};

test("words: the end in English is the daemon's own sentence", () => {
  assert.equal(end_sentence(en, end, [reading]), "Finished, a limit is not met.");
  assert.equal(end_quote(en, end), "");
});

test("words: the end in German is the page's, with the readings that decided", () => {
  const other = {...reading, name: "drift", judgement: "pass"};
  assert.equal(
      end_sentence(de, end, [other, reading]),
      "Fertig. Eine Grenze ist nicht eingehalten. level_pressed ist 0,959\u00a0V ± 0,020\u00a0V; " +
          "erlaubt: 1,08\u00a0V bis 1,32\u00a0V.");
});

test("words: a reading as an event has it is said the same", () => {
  const of_event = {
    name: "level_pressed",
    value: 0.9592,
    unit: "V",
    interval: {expanded_uncertainty: 0.0198},
    limit: {at_least: 1.08, at_most: 1.32},
    judgement: "fail"
  };
  assert.equal(end_sentence(de, end, [of_event]), end_sentence(de, end, [reading]));
});

test("words: why a run stopped is quoted where the sentence is the page's", () => {
  const stopped = {...end, ended: "stopped", judgement: null, sentence: "Stopped at step 2: no answer."};
  assert.equal(end_sentence(de, stopped), "Beendet. Das Gerät ist nicht beurteilt.");
  assert.equal(end_quote(de, stopped), "Stopped at step 2: no answer.");
});

test("words: a run that nothing was judged in, and one that is not closed, are said to be so", () => {
  assert.equal(end_sentence(en, {...end, sentence: "", judgement: null}), "Finished. Nothing was judged.");
  assert.equal(end_sentence(en, {ended: "", judgement: null}), "Not closed yet.");
});

test("words: limits with two sides, one, none", () => {
  assert.equal(limit_text(de, 1.08, 1.32, "V"), "1,08\u00a0V bis 1,32\u00a0V");
  assert.equal(limit_text(en, 1.08, null, "V"), "at least 1.08\u00a0V");
  assert.equal(limit_text(en, null, 0.01, "V"), "at most 10\u00a0mV");
  assert.equal(limit_text(en, null, null, "V"), "");
});

test("words: the captures of one name in a row are one line of the story", () => {
  const captured = (name, not_kept) => ({utc: "u", event: "captured", body: {name, not_kept}});
  const story = story_of(en, [
    captured("before", ""), captured("before", "no lock"), captured("after", ""),
    {utc: "u", event: "noted", body: {text: "hm"}}, captured("after", "")
  ]);
  assert.deepEqual(
      story.map((line) => line.sentence),
      ["Captured: before, 1 of 2 kept", "Captured: after, 1 of 1 kept", "Noted: hm", "Captured: after, 1 of 1 kept"]);
});

test("words: a kind of event that is younger than the page is named", () => {
  assert.deepEqual(story_of(de, [{utc: "u", event: "dreamt", body: {}}]), [{utc: "u", sentence: "dreamt"}]);
});

test("words: a calibration is over on the day after it was due", () => {
  assert.equal(calibration(en, "2030-06-30", "2030-06-30").over, false);
  assert.equal(calibration(en, "2030-06-30", "2030-07-01").words, "calibration overdue since Jun 30, 2030");
  assert.equal(calibration(de, "", "2030-07-01").words, "kein Kalibrierdatum angegeben");
});

test("words: a schedule says its days in the language of the page, or that it is every day", () => {
  const week = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"];
  assert.equal(when_text(en, {at: "07:30", on: ["monday", "friday"]}), "Mon, Fri at 07:30");
  assert.equal(when_text(de, {at: "07:30", on: ["tuesday", "sunday"]}), "Di, So um 07:30");
  assert.equal(when_text(de, {at: "22:00", on: week}), "täglich um 22:00");
});

test("words: what was thinned out of a run is said with its day", () => {
  const thinned = {captures: 61, kept: 3, at_utc: "2030-04-07T03:30:00.000Z"};
  assert.equal(
      thinned_text(en, thinned),
      "On Apr 7, 2030 the samples of 61 captures were thinned out; 3 stay. Readings and judgements are as they were.");
  assert.match(thinned_text(de, thinned), /^Am 07.04.2030 wurden die Abtastwerte von 61 Aufnahmen/);
});

test("words: the rules by which records make room are said, with what went wrong, and nothing without rules", () => {
  const none = {rules: null, next_utc: null, last: null, why_not: ""};
  assert.deepEqual(room_sentences(en, none), []);
  const rules = {thin_out_after_days: 90, archive_after_days: null};
  assert.deepEqual(room_sentences(en, {...none, rules}), ["Captures are thinned out after 90 days; readings stay."]);
  const failed = {...none, rules: {...rules, archive_after_days: 730}, last: {failures: ["the disk is full"]}};
  assert.deepEqual(
      room_sentences(de, failed).slice(1),
      ["Läufe kommen nach 730 Tagen in ein Archiv.", "Das letzte Mal misslang das: the disk is full"]);
});

test("words: an instrument is said with when it was met, and what is wrong with it", () => {
  const told = {
    asked_utc: "2030-01-07T08:00:00.000Z",
    answers: true,
    seen_utc: "2030-01-07T08:00:00.000Z",
    identity: "Lanternfield,S-1",
    trouble: null
  };
  assert.deepEqual(health(en, null), {words: ["not asked yet"], bad: false});
  assert.match(health(en, told).words[0], /^answered: Lanternfield,S-1, Jan 7, 2030/);
  assert.equal(health(en, told).bad, false);
  const silent = health(de, {...told, answers: false, trouble: {message: "no answer within 3 s"}});
  assert.match(silent.words[0], /^antwortete nicht, 07.01.2030/);
  assert.match(silent.words[1], /^antwortete zuletzt 07.01.2030/);
  assert.equal(silent.words[2], "no answer within 3 s");
  assert.equal(silent.bad, true);
});

test("words: a bench is proven, was proven too long ago, failed its proof, or never was", () => {
  const proof = {proven: true, run: "2030-01-07-1", at_utc: "2030-01-07T08:00:00.000Z", judgement: "pass", old: false};
  assert.match(proof_text(en, proof), /^proven Jan 7/);
  assert.match(proof_text(en, {...proof, old: true}), /too long ago$/);
  assert.match(proof_text(en, {...proof, judgement: "fail"}), /did not pass$/);
  assert.equal(proof_text(de, {...proof, run: null}), "nie nachgewiesen");
  assert.equal(proof_text(de, null), "nie nachgewiesen");
});
