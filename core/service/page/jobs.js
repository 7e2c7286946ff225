// SPDX-License-Identifier: Apache-2.0
// Jobs as the queue shows them, and a new one as the daemon wants it. No DOM.

// The jobs under the heading where they belong, in the order in which the daemon gives them.
export function sorted_out(jobs) {
  const of = (...states) => jobs.filter((job) => states.includes(job.state));
  return [
    ["under_way", of("under way")],
    ["interrupted", of("interrupted")],
    ["waiting", of("waiting")],
    ["ended", of("done", "withdrawn", "refused")],
  ];
}

// Of the fields of the form: what was left empty is not sent, so that the daemon takes what is usual.
export function new_job({bench, sequence, serial, model, priority, set}, by) {
  const given = Object.entries(set).map(([name, value]) => [name, value.trim()]).filter(([, value]) => value !== "");
  const job = {bench, sequence, priority: Number(priority), set: Object.fromEntries(given), by};
  if (serial.trim() !== "") job.serial = serial.trim();
  if (model !== "") job.model = model;
  return job;
}

// "pickup-level" for "ready/pickup-level.yaml": a name that fits into a line.
export function sequence_name(file) { return file.split("/").pop().replace(/\.yaml$/, ""); }
