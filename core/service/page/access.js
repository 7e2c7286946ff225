// SPDX-License-Identifier: Apache-2.0
// What the viewer may do, from the daemon's answer to "who am I" (`GET /api/1/session`). What is not allowed is not
// offered; the daemon refuses it besides. No DOM.

export const rights = ["look", "operate", "change", "administer"];

export function may(session, right) { return session.rights.includes(right); }

export function must_sign_in(session) { return session.signing_in === "needed" && session.user === ""; }

// Where nobody signs in, every screen of that machine stands at every bench.
export function stands_at(session, bench) { return session.signing_in === "not needed" || session.seat === bench; }

// Why nothing at this bench is answered from here, as a key of texts.js; "" where it is.
export function why_not_answered(session, bench) {
  if (!may(session, "operate")) return "access.not_operate";
  return stands_at(session, bench) ? "" : "access.elsewhere";
}

// The pages offered in the navigation.
export function pages_of(session) {
  const seen = may(session, "look") ? ["bench", "queue", "records", "workshop", "benches"] : [];
  const rehearsed = may(session, "look") && may(session, "operate") ? ["rehearsal"] : [];
  const administered = session.signing_in === "needed" && may(session, "administer") ? ["access"] : [];
  return [...seen, ...rehearsed, "settings", ...administered];
}

// What must be allowed for a view; "" where everybody gets it.
export function right_for(view) {
  return {settings: "", unknown: "", rehearsal: "operate", access: "administer"}[view] ?? "look";
}
