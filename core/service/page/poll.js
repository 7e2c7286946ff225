// SPDX-License-Identifier: Apache-2.0
// What a view without a feed shows is asked for again and again; a daemon that is away is waited for.

export class Poll {
  // `ask()` gets what is shown, `told(answer)` shows it; it gives false once there is nothing more to wait for.
  constructor(page, ask, told, every_ms) {
    Object.assign(this, {page, ask, told, every_ms});
    this.closed = false;
    this.waiting = null;
    this.now();
  }

  // At once, as after something was changed.
  async now() {
    clearTimeout(this.waiting);
    const turn = {};
    this.turn = turn;
    let more = true;
    try {
      const answer = await this.ask();
      if (this.closed || this.turn !== turn) return;
      this.page.connection("open");
      more = this.told(answer) !== false;
    } catch (problem) {
      if (this.closed || this.turn !== turn) return;
      if (problem.status === 0) {
        this.page.connection("cut");
      } else {
        this.page.problem(problem);
        more = problem.status >= 500;
      }
    }
    if (more) this.waiting = setTimeout(() => this.now(), this.every_ms);
  }

  close() {
    this.closed = true;
    clearTimeout(this.waiting);
  }
}
