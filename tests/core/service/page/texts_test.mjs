// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {readdirSync, readFileSync} from "node:fs";
import {test} from "node:test";

import {choose_language, choose_locale, has_text, keys, languages, row, text} from "../../../../core/service/page/texts.js";

const folder = new URL("../../../../core/service/page/", import.meta.url);
const modules = readdirSync(folder).filter((name) => name.endsWith(".js") && name !== "texts.js");
const sources = modules.map((name) => readFileSync(new URL(name, folder), "utf8"));

test("texts: every row is in every language, with the same places for values", () => {
  for (const key of keys) {
    assert.deepEqual(Object.keys(row(key)).sort(), Object.keys(languages).sort(), key);
    const places = Object.values(row(key)).map((words) => [...words.matchAll(/<\w+>/g)].map(String).sort().join());
    assert.equal(new Set(places).size, 1, `${key}: ${places.join(" / ")}`);
  }
});

test("texts: what is to be filled in stands between < and >", () => {
  for (const key of keys)
    for (const words of Object.values(row(key))) assert.ok(!/[{}]/.test(words), `${key}: ${words}`);
});

test("texts: every text that a module says by its key is there", () => {
  const said = sources.flatMap((source) => [...source.matchAll(/say\(\s*"([^"]+)"/g)].map((m) => m[1]));
  assert.ok(said.length > 60);
  assert.deepEqual(said.filter((key) => !has_text(key)), []);
});

test("texts: every row is used by a module, by its key or by what its key begins with", () => {
  const all = sources.join("\n");
  const built = [...all.matchAll(/`([a-z_.]+\.)\$\{/g)].map((m) => m[1]);
  const unused = keys.filter((key) => !all.includes(`"${key}"`) && !built.some((start) => key.startsWith(start)));
  assert.deepEqual(unused, []);
});

test("texts: the first language wanted that there is, else English", () => {
  assert.equal(choose_language(["de-AT", "en"]), "de");
  assert.equal(choose_language(["fr-FR", "de"]), "de");
  assert.equal(choose_language(["fr", "ja"]), "en");
  assert.equal(choose_language([]), "en");
});

test("texts: numbers are written as in the country that the browser names", () => {
  assert.equal(choose_locale("en", ["de-DE", "en-GB", "en"]), "en-GB");
  assert.equal(choose_locale("de", ["en-GB"]), "de");
});

test("texts: a value that is missing, and a key that is not there, are mistakes", () => {
  assert.equal(text("de", "bench.unit", {serial: "LF2-00417"}), "Gerät LF2-00417");
  assert.throws(() => text("de", "bench.unit"), /<serial>/);
  assert.throws(() => text("de", "no such"), /no text/);
});

test("texts: a value is put in as it is, whatever it holds", () => {
  assert.equal(text("en", "bench.unit", {serial: "$& <b>"}), "Unit $& <b>");
});
