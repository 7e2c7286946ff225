// SPDX-License-Identifier: Apache-2.0
// A scanner for codes is a keyboard that types what it reads, much faster than anybody, and then Enter. No
// DOM.

// The code on a sheet or label is the name of its run, "2030-01-07-3".
export function is_run(text) { return /^\d{4}-\d{2}-\d{2}-\d+$/.test(text); }

// Common practice: scanners send their keys some milliseconds apart, people hardly two within 100 ms.
export const together_ms = 100;
const shortest = 3;

export class Scanner {
  constructor() {
    this.text = "";
    this.last_ms = -Infinity;
  }

  // `key`: { key, ctrl, alt, meta, repeat } of an event. Gives the serial number when this key was the Enter that ends
  // one, else "". That Enter is no press of the pedal.
  take({key, ctrl, alt, meta, repeat}, now_ms) {
    const is_together = now_ms - this.last_ms <= together_ms;
    const text = is_together ? this.text : "";
    this.text = "";
    if (ctrl || alt || meta || repeat) return "";
    if (key === "Shift") {  // held for capital letters
      this.text = text;
      return "";
    }
    this.last_ms = now_ms;
    if (key === "Enter") return text.trim().length >= shortest ? text.trim() : "";
    if ([...key].length === 1) this.text = text + key;
    return "";
  }
}
