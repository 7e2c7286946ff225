// SPDX-License-Identifier: Apache-2.0
import assert from "node:assert/strict";
import {test} from "node:test";

import {Feed, pause_before} from "../../../../core/service/page/feed.js";

// A feed whose sockets are opened, told and cut by the test, and whose pauses end when the test says so.
function feed_of() {
  const seen = {sockets: [], pauses: [], told: [], became: []};
  seen.feed = new Feed({
    socket: () => {
      const socket = {close() { socket.closed = true; }};
      seen.sockets.push(socket);
      return socket;
    },
    later: (f, ms) => seen.pauses.push({f, ms}),
    never: (n) => {
      seen.pauses[n - 1].f = null;
    },
    told: (data) => seen.told.push(data),
    became: (state) => seen.became.push(state),
  });
  return seen;
}

test("feed: the pauses double up to two seconds and stay there", () => {
  assert.deepEqual([0, 1, 2, 3, 4, 5, 6, 60].map(pause_before), [100, 200, 400, 800, 1600, 2000, 2000, 2000]);
});

test("feed: it is opened again after each cut, with longer pauses until something is said", () => {
  const seen = feed_of();
  for (const _ of [1, 2, 3]) {
    seen.sockets.at(-1).onclose();
    seen.pauses.at(-1).f();
  }
  assert.deepEqual(seen.pauses.map((p) => p.ms), [100, 200, 400]);
  seen.sockets.at(-1).onmessage({data: "hello"});
  seen.sockets.at(-1).onclose();
  assert.equal(seen.pauses.at(-1).ms, 100);
  assert.deepEqual(seen.told, ["hello"]);
  assert.deepEqual(seen.became, ["cut", "cut", "cut", "open", "cut"]);
});

test("feed: what an abandoned socket still says is not heard", () => {
  const seen = feed_of();
  const [first] = seen.sockets;
  first.onclose();
  seen.pauses[0].f();
  first.onmessage({data: "late"});
  first.onclose();
  assert.deepEqual(seen.told, []);
  assert.equal(seen.pauses.length, 1);
});

test("feed: when the network comes back the pause is not waited out", () => {
  const seen = feed_of();
  seen.sockets[0].onclose();
  seen.feed.try_now();
  assert.equal(seen.sockets.length, 2);
  assert.equal(seen.pauses[0].f, null);
  seen.feed.try_now();
  assert.equal(seen.sockets.length, 2);
});

test("feed: once closed it stays closed", () => {
  const seen = feed_of();
  seen.feed.close();
  seen.sockets[0].onclose();
  assert.equal(seen.sockets[0].closed, true);
  assert.deepEqual(seen.pauses, []);
  assert.deepEqual(seen.became, []);
});
