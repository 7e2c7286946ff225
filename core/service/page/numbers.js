// SPDX-License-Identifier: Apache-2.0
// Numbers with their unit and uncertainty, as the sheet writes them (core/report/words.cpp), in the language of the
// page. Between a number and its unit stands a no-break space. Values are in SI units.

const no_break = "\u00a0";

function fixed(language, value, places) {
  const options = {minimumFractionDigits: places, maximumFractionDigits: places, useGrouping: false};
  return new Intl.NumberFormat(language, options).format(value);
}

function significant(language, value, digits) {
  return new Intl.NumberFormat(language, {maximumSignificantDigits: digits, useGrouping: false}).format(value);
}

function with_unit(number, unit) { return unit === "" || unit === "1" ? number : number + no_break + unit; }

// Small voltages are said in millivolts.
function is_small_voltage(value, unit) { return unit === "V" && value !== 0 && Math.abs(value) < 0.1; }

// Decimal places at which an uncertainty shows two digits.
function places_of(expanded) { return 1 - Math.floor(Math.log10(expanded)); }

// { number, uncertainty } as text; uncertainty is "" where none is known. They are apart because the bench view shows
// the number big. `keep_unit`: a live number does not jump between V and mV.
export function value_parts(language, value, expanded, unit, keep_unit = false) {
  if (!keep_unit && is_small_voltage(value, unit)) {
    return value_parts(language, value * 1e3, expanded === null ? null : expanded * 1e3, "mV", true);
  }
  if (expanded === null || !(expanded > 0)) {
    return {number: with_unit(significant(language, value, keep_unit ? 3 : 4), unit), uncertainty: ""};
  }
  const places = places_of(expanded);
  if (places < 0 || places > 12) {
    return {
      number: with_unit(significant(language, value, 4), unit),
      uncertainty: with_unit(significant(language, expanded, 2), unit),
    };
  }
  return {
    number: with_unit(fixed(language, value, places), unit),
    uncertainty: with_unit(fixed(language, expanded, places), unit),
  };
}

export function value_text(language, value, expanded, unit) {
  const parts = value_parts(language, value, expanded, unit);
  return parts.uncertainty === "" ? parts.number : `${parts.number} ± ${parts.uncertainty}`;
}

// An edge of a limit, with more digits than a value has: 1.0001 is not 1.
export function edge_text(language, value, unit) {
  const small = is_small_voltage(value, unit);
  return with_unit(significant(language, small ? value * 1e3 : value, 7), small ? "mV" : unit);
}

export function count_text(language, count) { return new Intl.NumberFormat(language).format(count); }

// 0 to 1, in whole per cent.
export function share_text(language, share) {
  return new Intl.NumberFormat(language, {style: "percent", maximumFractionDigits: 0}).format(share);
}

// A length of time in the unit that suits it: { key, count } for texts.js.
export function time_parts(language, seconds) {
  if (seconds < 120) return {key: "time.s", count: fixed(language, seconds, 0)};
  if (seconds < 7200) return {key: "time.min", count: fixed(language, seconds / 60, 0)};
  return {key: "time.h", count: significant(language, seconds / 3600, 2)};
}

// A moment in the time zone of the screen; what is no time stays as it is written.
export function moment_text(language, utc) {
  const moment = new Date(utc);
  if (Number.isNaN(moment.getTime())) return utc;
  return new Intl.DateTimeFormat(language, {dateStyle: "medium", timeStyle: "short"}).format(moment);
}

// A date without a time, such as 2030-06-30.
export function date_text(language, date) {
  const moment = new Date(`${date}T12:00:00Z`);
  if (Number.isNaN(moment.getTime())) return date;
  return new Intl.DateTimeFormat(language, {dateStyle: "medium", timeZone: "UTC"}).format(moment);
}
