// SPDX-License-Identifier: Apache-2.0
// The schema that is shipped for editors, held against the check itself by an independent validator (ajv, draft-07):
// every sequence that checks is valid; of the wrong ones in tests/golden/check_messages.txt, those whose structure is
// wrong are refused by both, and the schema refuses nothing that the check takes.
"use strict";
const Ajv = require("ajv");
const yaml = require("js-yaml");
const fs = require("fs");
const path = require("path");

const top = path.resolve(__dirname, "../..");
const validate =
    new Ajv().compile(JSON.parse(fs.readFileSync(path.join(top, "sequences/schema/sequence.schema.json"), "utf8")));
let wrong = 0;
function expect(what, good, seen) {
  console.log((good ? "ok     " : "WRONG  ") + what + (good ? "" : "\n       " + seen));
  if (!good) wrong += 1;
}

// Only structure: which keys, which verbs, lists and groups. What stands in a text only the check knows, and a schema
// knows nothing of the order of keys.
const STRUCTURE =
    /unknown key|' is missing|unknown verb|is a list of steps, found|a step is a verb|there is no step here|as a group of keys, found/;

function right_ones() {
  const ready = path.join(top, "sequences/ready");
  const all = fs.readdirSync(ready).map((name) => [name, fs.readFileSync(path.join(ready, name), "utf8")]);
  const page = fs.readFileSync(path.join(top, "sequences/README.md"), "utf8");
  for (const [, block] of page.matchAll(/^```yaml\n(sequence:.*?)^```$/gms)) all.push([block.split("\n")[0], block]);
  return all;
}

function wrong_ones() {
  const file = fs.readFileSync(path.join(top, "tests/golden/check_messages.txt"), "utf8");
  return file.split(/^=== /m).slice(1).map((text) => {
    const [head, messages] = text.split(/^---\n/m);
    const title = head.slice(0, head.indexOf("\n"));
    let source = head.slice(title.length + 1);
    if (title.endsWith("(steps)"))
      source = "sequence: test\nabout: a test\nsteps:\n" + source.replace(/^(?=.)/gm, "  ");
    return {title, source, messages};
  });
}

const right = right_ones();
for (const [name, text] of right)
  expect(`${name}: valid`, validate(yaml.load(text, {schema: yaml.CORE_SCHEMA})), JSON.stringify(validate.errors));

let structural = 0;
for (const {title, source, messages} of wrong_ones()) {
  let document;
  try {
    document = yaml.load(source, {schema: yaml.CORE_SCHEMA});
  } catch (error) {
    continue;  // no YAML at all: nothing for a schema to say
  }
  const valid = validate(document);
  const is_warning_only = messages.split("\n").every((line) => line === "" || line.includes(": warning: "));
  if (STRUCTURE.test(messages)) {
    structural += 1;
    expect(`${title}: refused by both`, !valid, messages);
  } else {
    expect(`${title}: not refused by the schema alone`, valid || !is_warning_only, JSON.stringify(validate.errors));
  }
}
expect(
    "at least ten right ones and fifty wrong ones were looked at", right.length >= 10 && structural >= 50,
    `${right.length}, ${structural}`);
process.exit(wrong === 0 ? 0 : 1);
