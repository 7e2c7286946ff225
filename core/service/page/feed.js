// SPDX-License-Identifier: Apache-2.0
// The feed of one bench, opened again whenever it is cut, until it is closed. What a socket is and what waits are told,
// so that this can be tested without a browser.

const first_pause_ms = 100;
const longest_pause_ms = 2000;

// How long to wait before the n-th try in a row (0: the first after a cut).
export function pause_before(tries) { return Math.min(longest_pause_ms, first_pause_ms * 2 ** tries); }

export class Feed {
  // `socket()` opens one, from where the page stands; `later(f, ms)` calls f once and gives what `never` takes back;
  // `told(data)` gets each message; `became("open" | "cut")` hears of every change.
  constructor({socket, later, never, told, became}) {
    Object.assign(this, {make: socket, later, never, told, became});
    this.tries = 0;
    this.waiting = null;
    this.closed = false;
    this.open();
  }

  open() {
    this.waiting = null;
    const socket = this.make();
    this.socket = socket;
    socket.binaryType = "arraybuffer";
    socket.onmessage = (message) => {
      if (socket !== this.socket) return;
      // A server that takes connections and drops them is not back: only what it says counts.
      if (this.tries >= 0) this.became("open");
      this.tries = -1;
      this.told(message.data);
    };
    socket.onclose = () => {
      if (socket === this.socket) this.lost();
    };
  }

  lost() {
    this.socket = null;
    if (this.closed) return;
    this.became("cut");
    this.tries = Math.max(0, this.tries);
    this.waiting = this.later(() => this.open(), pause_before(this.tries));
    this.tries += 1;
  }

  // The network has come back: no need to wait out the pause.
  try_now() {
    if (this.waiting === null) return;
    this.never(this.waiting);
    this.open();
  }

  close() {
    this.closed = true;
    if (this.waiting !== null) this.never(this.waiting);
    const socket = this.socket;
    this.socket = null;
    if (socket !== null) socket.close();
  }
}
