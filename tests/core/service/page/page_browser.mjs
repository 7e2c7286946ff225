// SPDX-License-Identifier: Apache-2.0
// The page in a browser against the stand-in, in states that are hard to reach with a daemon.
import assert from "node:assert/strict";
import {after, test} from "node:test";

import {close_browser, open_page, press_pedal, prompt, stand_in} from "./browser.mjs";

after(close_browser);

const job = {
  bench: "lanternfield-1",
  sequence: "ready/pickup-level.yaml",
  serial: "LF2-00417"
};
const lost = /WebSocket|Failed to load resource/;  // what Chromium itself says of a connection that is gone

async function bench_page(t, options = {}, daemon_options = {}) {
  const daemon = await stand_in(daemon_options);
  const page = await open_page(t, `${daemon.url}/#/bench/lanternfield-1`, options);
  t.after(() => daemon.cut());
  await page.locator("[data-stage=idle]").waitFor();
  return {daemon, page};
}

function run_on(daemon, changes = {}) {
  daemon.becomes(
      {state: "running", run: "2030-01-07-1", job: daemon.jobs[0] ?? null, sequence: daemon.sequence(), ...changes});
}

test("a feed that is cut is told of, its level blanks, and it goes on without a reload where it was", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  daemon.take(job);
  await press_pedal(page);
  await page.getByRole("heading", {name: /Insert the pressed/}).waitFor();
  await page.evaluate(() => {
    globalThis.not_reloaded = true;
  });
  daemon.look(1.2);
  await page.locator(".level-number").filter({hasText: "1.200"}).waitFor();
  await daemon.cut();
  await page.locator("#connection", {hasText: "No connection"}).waitFor();
  assert.equal(await page.locator(".level-number").textContent(), "–");
  const told = daemon.runs.get(daemon.bench.run).length;
  await daemon.back();
  await page.locator("#connection", {hasText: "back"}).waitFor();
  assert.deepEqual(daemon.last_query, {run: daemon.bench.run, after: String(told)});
  await press_pedal(page);
  await page.locator("[data-stage=ended]").waitFor();
  await page.locator("#connection").waitFor({state: "hidden"});
  assert.equal(await page.evaluate(() => globalThis.not_reloaded), true);
});

test("an answer that the daemon cannot hear is told of, and given once it is back", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  const answered = daemon.ask({text: "Close the cover"});
  await page.locator("button.the-one:enabled").waitFor();
  await daemon.cut();
  await page.keyboard.press("Space");
  await page.locator("#problem", {hasText: "The daemon does not answer"}).waitFor();
  await daemon.back();
  await page.locator("#connection", {hasText: "back"}).waitFor();
  await press_pedal(page);
  assert.equal(await answered, "done");
  await page.locator("#problem").waitFor({state: "hidden"});
});

test("when the network comes back the feed is tried at once", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  await page.clock.install();
  await page.reload();
  await page.locator("[data-stage=idle]").waitFor();
  await daemon.cut();
  await page.locator("#connection", {hasText: "No connection"}).waitFor();
  const failed = page.waitForEvent("console");
  await page.clock.pauseAt(Date.now() + 3600_000);
  await failed;  // the last try by itself: no pause of the feed ends any more
  await daemon.back();
  await page.evaluate(() => dispatchEvent(new Event("online")));
  await page.locator("#connection", {hasText: "back"}).waitFor();
});

test("a level that is not renewed is a dash within half a second", async (t) => {
  const daemon = await stand_in();
  const page = await open_page(t, `${daemon.url}/#/settings`);
  t.after(() => daemon.cut());
  await page.clock.install();
  await page.goto(`${daemon.url}/#/bench/lanternfield-1`);
  await page.locator("[data-stage=idle]").waitFor();
  run_on(daemon);
  daemon.look(1.2);
  const number = page.locator(".level-number");
  await number.filter({hasText: "1.200"}).waitFor();
  await page.clock.pauseAt(Date.now() + 3600_000);
  daemon.look(1.234);
  await number.filter({hasText: "1.234"}).waitFor();
  await page.clock.runFor(400);
  assert.equal(await number.textContent(), "1.234\u00a0V");
  await page.clock.runFor(100);
  assert.equal(await number.textContent(), "–");
  assert.equal(await page.locator(".level-uncertainty").textContent(), "");
  assert.equal(await page.locator(".band-mark").isVisible(), false);
  assert.equal(await page.locator(".level-word").textContent(), "no live value");
});

test("the level says low, in limits and high in words, and too near where it cannot tell", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  const word = page.locator(".level-word");
  for (const [level_v, said] of [
           [1.0, "low"], [1.2, "in limits"], [1.4, "high"], [1.08, "too near the limit to tell"]]) {
    daemon.look(level_v);
    await word.filter({hasText: said}).waitFor();
  }
  daemon.look(1.2, {level_expanded_v: null});
  await page.locator(".level-uncertainty", {hasText: "not known yet"}).waitFor();
  assert.deepEqual(await page.locator(".zone-word").allTextContents(), ["low", "in limits", "high"]);
});

test("the level is in no live region, the prompt is said once", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  daemon.look(1.2);
  daemon.ask({text: "Close the cover"});
  await page.locator("#said", {hasText: "Close the cover"}).waitFor();
  const live = await page.evaluate(() => {
    const regions = [...document.querySelectorAll("[aria-live], [role=status], [role=alert], output")];
    return regions.filter((r) => r.contains(document.querySelector(".level-number"))).length;
  });
  assert.equal(live, 0);
  assert.equal(await page.getByText("Close the cover").count(), 2, "the heading and what is read aloud");
});

test("the eye is painted on its canvas, and greyed when it is no longer live", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  daemon.eye({width: 80, height: 40});
  await page.locator(".eye canvas[width='80']").waitFor();
  const tones = await page.evaluate(() => {
    const canvas = document.querySelector(".eye canvas");
    const pixels = canvas.getContext("2d").getImageData(0, 0, 80, 40).data;
    return new Set(Array.from({length: 3200}, (_, i) => pixels[i * 4])).size;
  });
  assert.ok(tones > 10, `${tones} tones`);
  await page.locator(".eye canvas.not-live").waitFor();
  await page.getByText("Eye, not live").waitFor();
});

test("every kind of question is answered in its way", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  const yes_or_no = daemon.ask({text: "Does it play?", wants: "yes or no"});
  await page.getByRole("button", {name: "No", exact: true}).click();
  assert.equal(await yes_or_no, "no");
  const one_of = daemon.ask({text: "Which disc?", wants: "one of", choices: ["pressed", "recordable"]});
  await page.getByRole("button", {name: "recordable"}).click();
  assert.equal(await one_of, "recordable");
  for (const [wants, label, typed] of [
           ["a value", "Value with its unit", "1.20 V"], ["a code", /^Code/, "PB-7"],
           ["a text", "Your answer", "lens is dusty"]]) {
    const answer = daemon.ask({text: `Give ${wants}`, wants, allowed: wants === "a value" ? "0 V to 5 V" : ""});
    await page.getByLabel(label).fill(typed);
    await page.keyboard.press("Enter");
    assert.equal(await answer, typed);
  }
  daemon.ask({text: "Give a file", wants: "a file"});
  await page.getByText("It cannot be given from this page").waitFor();
});

test("what the daemon does not take as an answer keeps what was typed and says what would be right", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  run_on(daemon);
  daemon.wrong_with = (answer) => (answer === "1.20" ? "expected a voltage such as 1.20 V" : null);
  const answer = daemon.ask({text: "What does the sheet say?", wants: "a value"});
  await page.getByLabel("Value with its unit").fill("1.20");
  await page.keyboard.press("Enter");
  await page.locator("#problem", {hasText: "expected a voltage such as 1.20 V"}).waitFor();
  assert.equal(await page.getByLabel("Value with its unit").inputValue(), "1.20");
  await page.getByLabel("Value with its unit").fill("1.20 V");
  await page.keyboard.press("Enter");
  assert.equal(await answer, "1.20 V");
});

test("a question asked again says why", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  daemon.ask({text: "What does the sheet say?", wants: "a value", again: "9 V is not allowed: 0 V to 5 V"});
  await page.getByRole("alert").filter({hasText: "9 V is not allowed"}).waitFor();
});

test("space on a question that is not a matter of one key answers nothing", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  daemon.ask({text: "Does it play?", wants: "yes or no"});
  await page.getByRole("button", {name: "Yes"}).waitFor();
  await page.keyboard.press("Space");
  daemon.becomes({question: null, last: null});
  await page.locator("[data-stage=now]").waitFor();
  assert.deepEqual(daemon.received, []);
});

test("a pedal that bounces does not answer the next question, nor does a key that is held", async (t) => {
  const {daemon, page} = await bench_page(t);
  run_on(daemon);
  const first = daemon.ask({text: "First"});
  await page.locator("button.the-one:enabled").waitFor();
  await page.keyboard.down("Space");
  await first;
  daemon.ask({text: "Second"});
  await page.getByRole("heading", {name: "Second"}).waitFor();
  await page.keyboard.up("Space");
  await page.keyboard.press("Space");  // within the quiet time
  await page.locator("button.the-one:enabled").waitFor();
  await page.keyboard.down("Space");
  await page.keyboard.up("Space");
  await page.locator("[data-stage=now]").waitFor();
  assert.deepEqual(daemon.received.map((r) => r.body.question), [1, 2]);
});

test("a press that comes twice before the daemon has reacted is one answer", async (t) => {
  const {daemon, page} = await bench_page(t);
  let arrived = 0;
  await page.route("**/answer", async (route) => {
    ++arrived;
    await daemon.pause(300);
    await route.continue();
  });
  const answer = daemon.ask({text: "Close the cover"});
  await press_pedal(page);
  await page.keyboard.press("Space");
  await page.locator("button.the-one").click();
  assert.equal(await answer, "done");
  assert.equal(arrived, 1);
  assert.equal(await page.locator("#problem").isVisible(), false);
});

for (const key of ["Space", "Enter", "PageDown"]) {
  test(`the pedal may send ${key}`, async (t) => {
    const {daemon, page} = await bench_page(t);
    const answer = daemon.ask({text: "Close the cover"});
    await press_pedal(page, key);
    assert.equal(await answer, "done");
  });
}

test("a key is learnt as the pedal's, kept, and forgotten again", async (t) => {
  const {daemon, page} = await bench_page(t);
  await page.goto(`${daemon.url}/#/settings`);
  await page.getByRole("button", {name: "Learn another key"}).click();
  await page.keyboard.press("KeyB");
  await page.getByText("Besides: KeyB").waitFor();
  await page.goto(`${daemon.url}/#/bench/lanternfield-1`);
  await page.reload();
  const answer = daemon.ask({text: "Close the cover"});
  await press_pedal(page, "KeyB");
  assert.equal(await answer, "done");
  await page.goto(`${daemon.url}/#/settings`);
  await page.getByRole("button", {name: "Forget that key"}).click();
  await page.getByText("Besides: none").waitFor();
});

test("who answers is told to the daemon", async (t) => {
  const {daemon, page} = await bench_page(t);
  await page.goto(`${daemon.url}/#/settings`);
  await page.getByLabel("Who answers here").fill("bench 2");
  await page.goto(`${daemon.url}/#/bench/lanternfield-1`);
  const answer = daemon.ask({text: "Close the cover"});
  await press_pedal(page);
  await answer;
  assert.equal(daemon.received[0].body.by, "bench 2");
});

test(
    "a run is paused, gone on with, and stopped; a button that a mouse pressed is not pressed again by the pedal",
    async (t) => {
      const {daemon, page} = await bench_page(t);
      run_on(daemon);
      await page.getByRole("button", {name: "Pause"}).click();
      await page.getByText("Paused. Nothing goes on").first().waitFor();
      await page.getByRole("button", {name: "Go on"}).click();
      await page.locator("[data-stage=now]").waitFor();
      await page.keyboard.press("Space");
      await page.getByRole("button", {name: "Stop after this step"}).click();
      await page.locator("[data-stage=stopping]").waitFor();
      // The button for stopping stays where the mouse has left it.
      await page.getByRole("button", {name: "Stop now"}).click();
      await page.keyboard.press("Space");
      await page.getByRole("button", {name: "Stop now"}).click();
      const deeds = () => daemon.received.map((r) => r.path.split("/").pop());
      while (deeds().filter((deed) => deed === "stop").length < 2) await daemon.pause();
      assert.deepEqual(deeds(), ["pause", "go-on", "stop-after-step", "stop", "stop"]);
    });

test("a bench out of order says why and what to do", async (t) => {
  const {daemon, page} = await bench_page(t);
  daemon.becomes({
    state: "stopped working",
    trouble: {code: "no answer", where: "scope", message: "scope does not answer", advice: "is it switched on?"}
  });
  await page.getByText("This bench takes no jobs").first().waitFor();
  await page.getByText("Try: is it switched on?").waitFor();
});

test("the present line of the sequence is marked, and moves", async (t) => {
  const {daemon, page} = await bench_page(t);
  const [first, second] = daemon.explained.steps;
  const at = (s) => ({part: s.part, number: Number(s.number), file: s.file, line: s.line});
  run_on(daemon, {here: at(first)});
  await page.locator("[aria-current=step]", {hasText: first.text}).waitFor();
  daemon.becomes({here: at(second)});
  await page.locator("[aria-current=step]", {hasText: second.text}).waitFor();
  assert.equal(await page.locator(".line-behind", {hasText: first.text}).count(), 1);
  assert.equal(await page.locator("[aria-current=step]").count(), 1);
  // The run was never seen at the opening.
  assert.equal(await page.locator(".line-left_out", {hasText: daemon.explained.opening[0].text}).count(), 1);
});

test("runs that were missed and looks that were dropped are told of", async (t) => {
  const {daemon, page} = await bench_page(t);
  daemon.tell({kind: "missed", runs: ["2030-01-06-4"]});
  daemon.tell({kind: "dropped", looks: 17});
  await page.getByRole("link", {name: "2030-01-06-4"}).waitFor();
  await page.getByText("17 live pictures").waitFor();
});

test("with several benches there is a choice first, with one there is none", async (t) => {
  const daemon = await stand_in({benches: ["lanternfield-1", "lanternfield-2"]});
  const page = await open_page(t, `${daemon.url}/`);
  t.after(() => daemon.cut());
  await page.getByRole("link", {name: "lanternfield-2"}).click();
  await page.getByRole("heading", {name: "lanternfield-2"}).waitFor();
  const one = await stand_in();
  const other = await open_page(t, `${one.url}/`);
  t.after(() => one.cut());
  await other.getByRole("heading", {name: "lanternfield-1"}).waitFor();
});

test("a page opened before the daemon is there comes up by itself", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  await daemon.cut();
  await page.evaluate(() => {
    location.hash = "#/queue";
  });
  await page.locator("#connection", {hasText: "No connection"}).waitFor();
  await daemon.back();
  await page.getByText("No jobs.").waitFor();
  await page.locator("#connection", {hasText: "back"}).waitFor();
  await page.locator("#connection").waitFor({state: "hidden"});
  await page.getByLabel("Sequence").waitFor();
});

test("a bench that there is not is said to be none", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  await page.goto(`${daemon.url}/#/bench/elsewhere`);
  await page.getByRole("alert").filter({hasText: "There is no bench \"elsewhere\"."}).waitFor();
});

test("a job is put forward, put back and withdrawn; an interrupted one resumed or closed", async (t) => {
  const {daemon, page} = await bench_page(t);
  daemon.plays = false;
  for (const serial of ["LF2-00001", "LF2-00002"]) daemon.take({...job, serial});
  Object.assign(
      daemon.take({...job, serial: "LF2-00003"}), {state: "interrupted", why: "the daemon was stopped at step 3"});
  Object.assign(daemon.take({...job, serial: "LF2-00004"}), {state: "interrupted"});
  await page.goto(`${daemon.url}/#/queue`);
  await page.getByText("the daemon was stopped at step 3").waitFor();
  await page.getByRole("button", {name: "Take job 2 sooner"}).click();
  await page.getByText("Job 2, priority 1").waitFor();
  await page.getByRole("button", {name: "Take job 1 later"}).click();
  await page.getByText("Job 1, priority -1").waitFor();
  await page.getByRole("button", {name: "Withdraw job 1"}).click();
  await page.getByRole("button", {name: "Resume job 3"}).click();
  await page.getByRole("button", {name: "Close job 4"}).click();
  await page.getByRole("button", {name: "Close job 4"}).waitFor({state: "detached"});
  assert.deepEqual(daemon.jobs.map((j) => j.state), ["withdrawn", "waiting", "waiting", "done"]);
});

test(
    "what a sequence asks at its start is a field; what the daemon refuses is said with what would be right",
    async (t) => {
      const {daemon, page} = await bench_page(t, {allowed: lost});
      daemon.plays = false;
      daemon.explained = {
        ...daemon.explained,
        asked_at_start:
            [{name: "drift_allowed", about: "how far the level may move", usual: "100 mV", allowed: "20 mV to 500 mV"}]
      };
      await page.goto(`${daemon.url}/#/queue`);
      await page.getByLabel("drift_allowed").fill("1 kg");
      await page.getByLabel("Model").selectOption("LF-2");
      await page.getByRole("button", {name: "Queue a job"}).click();
      await page.getByRole("alert")
          .filter({hasText: "found a mass (1 kg)"})
          .filter({hasText: "write a voltage"})
          .waitFor();
      await page.getByLabel("drift_allowed").fill("80 mV");
      await page.getByRole("button", {name: "Queue a job"}).click();
      await page.getByText("Job 1 is queued.").waitFor();
      assert.deepEqual(daemon.jobs[0].set, {drift_allowed: "80 mV"});
      assert.equal(daemon.jobs[0].model, "lf-2.yaml");
    });

test("the records of a unit are found by its serial number, and lead to the run", async (t) => {
  const {daemon, page} = await bench_page(t, {}, {step_ms: 0, looks: 0});
  for (const serial of ["LF2-00417", "LF2-00418"]) {
    daemon.take({...job, serial});
    await press_pedal(page);
    await page.getByRole("heading", {name: /Insert the pressed/}).waitFor();
    await press_pedal(page);
    await page.locator("[data-stage=ended]").waitFor();
  }
  await page.goto(`${daemon.url}/#/records`);
  await page.getByRole("link", {name: /LF2-00418/}).waitFor();
  await page.getByLabel("Serial number").fill("LF2-00417");
  await page.keyboard.press("Enter");
  await page.getByRole("heading", {name: "Runs of LF2-00417"}).waitFor();
  await page.getByRole("link", {name: /LF2-00418/}).waitFor({state: "detached"});
  await page.getByRole("link", {name: /LF2-00417/}).click();
  await page.getByText("0.959\u00a0V ± 0.020\u00a0V", {exact: true}).waitFor();
  await page.getByText("What happened").click();
  await page.getByText("Captured: pressed, 64 of 65 kept").waitFor();
  await page.locator(".sheet img").scrollIntoViewIfNeeded();
  await page.waitForFunction(() => document.querySelector(".sheet img").naturalWidth > 0);
});

test("a run that there is not is said to be none", async (t) => {
  const {daemon, page} = await bench_page(t, {allowed: lost});
  await page.goto(`${daemon.url}/#/run/never`);
  await page.getByRole("alert").filter({hasText: "There is no run \"never\"."}).waitFor();
});

test(
    "in a German browser words and numbers are German, what the daemon says stays; the language can be changed",
    async (t) => {
      const {daemon, page} = await bench_page(t, {locale: "de-DE"});
      assert.equal(await page.evaluate(() => document.documentElement.lang), "de");
      run_on(daemon);
      daemon.look(1.2);
      await page.getByText("1,200\u00a0V", {exact: true}).waitFor();
      await page.getByText("Grenzen: 1,08\u00a0V bis 1,32\u00a0V").waitFor();
      daemon.ask({text: "Insert the pressed test disc"});
      await page.getByRole("button", {name: "Erledigt"}).waitFor();
      assert.equal(await prompt(page).textContent(), "Insert the pressed test disc");
      daemon.becomes({
        question: null,
        state: "idle",
        run: null,
        last: {
          run: "r",
          serial: "LF2-00417",
          sequence: "pickup-level",
          ended: "finished",
          judgement: "pass",
          sentence: "Finished, every limit is met."
        }
      });
      await page.getByText("Fertig. Alle Grenzen sind eingehalten.").first().waitFor();
      await page.goto(`${daemon.url}/#/settings`);
      await page.getByLabel("Sprache").selectOption("English");
      await page.getByText("Settings of this screen").waitFor();
      await page.reload();
      await page.getByText("Settings of this screen").waitFor();
    });

test(
    "a serial number that a scanner types at a free bench prepares its visit, and its Enter answers nothing",
    async (t) => {
      const {daemon, page} = await bench_page(t);
      daemon.plays = false;
      await page.getByText("The bench is free.").waitFor();
      await page.keyboard.type("LF2-00417");
      const answered = page.waitForResponse((response) => response.url().endsWith("/scan"));
      await page.keyboard.press("Enter");
      await answered;
      assert.equal(daemon.jobs[0].serial, "LF2-00417");
      assert.deepEqual(daemon.received.map(({path}) => path), ["/api/1/benches/lanternfield-1/scan"]);
    });

test("what comes by the clock is listed with the jobs", async (t) => {
  const {daemon, page} = await bench_page(t);
  daemon.schedules = [{
    name: "bench proof in the morning",
    at: "07:30",
    on: ["monday", "friday"],
    bench: "lanternfield-1",
    sequence: "ready/bench-proof.yaml",
    serial: "",
    model: "",
    set: {},
    priority: 0,
    next_due_utc: "2030-01-07T06:30:00.000Z"
  }];
  await page.goto(`${daemon.url}/#/queue`);
  await page.getByText("Mon, Fri at 07:30").waitFor();
  await page.getByText("lanternfield-1 · bench-proof").waitFor();
});
