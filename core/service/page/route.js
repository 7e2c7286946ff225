// SPDX-License-Identifier: Apache-2.0
// Which view an address asks for: "#/bench/NAME", "#/run/ID", "#/records?serial=S", "#/workshop?check_unit=S",
// "#/queue?bench=B", "#/benches",
// "#/rehearsal", "#/settings", "#/access". Nothing behind the # is the bench view.

const views = ["bench", "run", "records", "workshop", "queue", "benches", "rehearsal", "settings", "access"];

export function route_of(hash) {
  const [path, query = ""] = hash.replace(/^#\/?/, "").split("?");
  const [view, ...rest] = path.split("/");
  const parameters = Object.fromEntries(new URLSearchParams(query));
  if (view === "") return {view: "bench", name: "", parameters};
  let name;
  try {
    name = decodeURIComponent(rest.join("/"));
  } catch {  // a lone % is no name of anything
    return {view: "unknown", name: "", parameters};
  }
  return {view: views.includes(view) ? view : "unknown", name, parameters};
}

export function hash_of(view, name = "", parameters = {}) {
  const query = new URLSearchParams(parameters).toString();
  return `#/${view}${name === "" ? "" : `/${encodeURIComponent(name)}`}${query === "" ? "" : `?${query}`}`;
}
