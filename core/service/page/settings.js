// SPDX-License-Identifier: Apache-2.0
// What this screen keeps: language, who answers, the key of its pedal, the number of its seat. A browser that keeps
// nothing (a private window) keeps it as long as the page is open.

const usual = {
  language: "",
  by: "",
  pedal: "",
  seat: ""
};
const name = "eyelevel";

function stored() {
  try {
    const kept = JSON.parse(localStorage.getItem(name) ?? "{}");
    return Object.fromEntries(
        Object.entries(usual).map(([key, value]) => [key, typeof kept[key] === "string" ? kept[key] : value]));
  } catch {
    return {...usual};
  }
}

export const settings = stored();

export function keep(key, value) {
  settings[key] = value;
  try {
    localStorage.setItem(name, JSON.stringify(settings));
  } catch {
    return false;
  }
  return true;
}
