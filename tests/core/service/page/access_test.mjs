// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {readFileSync} from "node:fs";
import {test} from "node:test";

import {may, must_sign_in, pages_of, right_for, rights, stands_at, why_not_answered} from "../../../../core/service/page/access.js";
import {hash_of, route_of} from "../../../../core/service/page/route.js";

const open = {
  user: "",
  rights,
  seat: "",
  signing_in: "not needed"
};
const nobody = {
  user: "",
  rights: [],
  seat: "",
  signing_in: "needed"
};
const as = (...some) => ({user: "ada", rights: some, seat: "", signing_in: "needed"});

test("access: the rights are those of the API", () => {
  const schemas = JSON.parse(readFileSync(new URL("../../../../core/service/api_schemas.json", import.meta.url)));
  assert.deepEqual(rights, schemas.Session.properties.rights.items.enum);
});

test("access: who is not known signs in where that is needed, and nowhere else", () => {
  assert.ok(must_sign_in(nobody));
  assert.ok(!must_sign_in(open));
  assert.ok(!must_sign_in(as ("look")));
});

test("access: a question is answered by who may operate, at the bench", () => {
  assert.equal(why_not_answered({...as ("operate"), seat: "b"}, "b"), "");
  assert.equal(why_not_answered({...as ("operate"), seat: "b"}, "c"), "access.elsewhere");
  assert.equal(why_not_answered({...as ("look"), seat: "b"}, "b"), "access.not_operate");
});

test("access: where nobody signs in, this machine stands at every bench", () => {
  assert.ok(stands_at(open, "b"));
  assert.equal(why_not_answered(open, "b"), "");
});

test("access: the pages offered are those that may be seen; users are no matter where nobody signs in", () => {
  assert.deepEqual(pages_of(open), ["bench", "queue", "records", "workshop", "benches", "rehearsal", "settings"]);
  assert.deepEqual(pages_of(as ("look")), ["bench", "queue", "records", "workshop", "benches", "settings"]);
  assert.deepEqual(pages_of(as ("administer")), ["settings", "access"]);
  assert.deepEqual(pages_of(as ("operate", "change")), ["settings"]);
});

test("access: every page that is offered may be seen, and has an address", () => {
  for (const session of [open, as ("look"), as ("administer"), as (...rights)]) {
    for (const page of pages_of(session)) {
      assert.equal(route_of(hash_of(page)).view, page);
      assert.ok(right_for(page) === "" || may(session, right_for(page)), page);
    }
  }
});
