// SPDX-License-Identifier: Apache-2.0
// The live level and the eye. Up to twenty times a second, so its nodes are made once and only their content changes;
// for the same reason it is not announced. Half a second without a look, and a dash stands there.
import {band} from "./band_view.js";
import {element} from "./dom.js";
import {pixels_of, ramp} from "./eye_frame.js";
import {count_text, edge_text, value_parts} from "./numbers.js";
import {stale_after_ms} from "./state.js";
import {limit_text} from "./words.js";

const dash = "–";

function level_part(say) {
  const number = element("p", {class: "level-number"}, dash);
  const uncertainty = element("p", {class: "level-uncertainty"});
  const word = element("p", {class: "level-word"});
  const limits = element("p", {class: "hint"});
  const kept = element("p", {class: "hint"});
  const place = element("div");
  const title = element("h2", {id: "level-title"}, say("level"));
  const node = element(
      "section", {class: "level", "aria-labelledby": "level-title"}, title,
      element("div", {class: "level-line"}, number, element("div", {}, uncertainty, word)), place,
      element("div", {class: "level-facts"}, limits, kept));
  let shown = null;  // the band of these limits
  const write = (where, text) => {
    if (where.textContent !== text) where.textContent = text;
  };

  function blank() {
    write(number, dash);
    write(uncertainty, "");
    write(word, say("level.none"));
    node.dataset.word = "none";
    if (shown !== null) shown.band.blank();
  }

  function show(look) {
    const limit = `${look.at_least} ${look.at_most}`;
    if (shown === null || shown.limit !== limit) {
      shown = {limit, band: band(say, look.at_least, look.at_most)};
      place.replaceChildren(...(look.at_least === null && look.at_most === null ? [] : [shown.band.node]));
      const said = limit_text(say, look.at_least, look.at_most, "V");
      limits.textContent = said === "" ? "" : say("band.limits", {limits: said});
    }
    const parts = value_parts(say.locale, look.level_v, look.level_expanded_v, "V", true);
    const at = shown.band.show(look.level_v, look.level_expanded_v);
    write(title, say("level.of", {signal: look.signal}));
    write(number, parts.number);
    write(uncertainty, parts.uncertainty === "" ? say("level.no_uncertainty") : `± ${parts.uncertainty}`);
    write(word, say(`band.${at}`));
    node.dataset.word = at;
    const count = (n) => count_text(say.locale, n);
    write(
        kept,
        look.wanted > 0 ?
            say("level.kept", {kept: count(look.kept), wanted: count(look.wanted), tried: count(look.tried)}) :
            "");
  }
  return {node, show, blank};
}

// The colours of the eye are those of the page, so that dark and light follow the system.
function colours_of(canvas) {
  const style = getComputedStyle(canvas);
  const numbers = (colour) => colour.match(/[\d.]+/g).slice(0, 3).map(Number);
  return ramp(numbers(style.backgroundColor), numbers(style.color));
}

function eye_part(say) {
  const canvas = element("canvas", {width: 1, height: 1, role: "img", "aria-label": say("eye")});
  const title = element("h2", {id: "eye-title"}, say("eye"));
  const scale = element("p", {class: "hint"});
  const node = element("section", {class: "eye", "aria-labelledby": "eye-title"}, title, canvas, scale);
  let colours = null;
  let image = null;
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    colours = null;
  });

  function show(frame) {
    colours ??= colours_of(canvas);
    const context = canvas.getContext("2d");
    if (image === null || canvas.width !== frame.width || canvas.height !== frame.height) {
      canvas.width = frame.width;
      canvas.height = frame.height;
      image = context.createImageData(frame.width, frame.height);
    }
    pixels_of(frame, colours, image.data);
    context.putImageData(image, 0, 0);
    const volts = (v) => edge_text(say.locale, Number(v.toPrecision(3)), "V");
    const said =
        say("eye.scale",
            {low: volts(frame.low_v), high: volts(frame.high_v), periods: count_text(say.locale, frame.periods)});
    if (scale.textContent !== said) scale.textContent = said;
    node.hidden = false;
    live(true);
  }

  function live(is_live) {
    canvas.classList.toggle("not-live", !is_live);
    const said = say(is_live ? "eye" : "eye.not_live");
    if (title.textContent === said) return;
    title.textContent = said;
    canvas.setAttribute("aria-label", said);
  }
  node.hidden = true;
  return {node, show, live};
}

// { node, look(look), eye(frame), blank(), forget() }; hidden until there is something to show.
export function level_view(say) {
  const level = level_part(say);
  const eye = eye_part(say);
  const node = element("div", {class: "live", hidden: true}, level.node, eye.node);
  let due = null;
  let eye_due = null;
  const blank = () => {
    level.blank();
    eye.live(false);
  };
  return {
    node,
    blank,
    look(look) {
      node.hidden = false;
      level.show(look);
      clearTimeout(due);
      due = setTimeout(level.blank, stale_after_ms);
    },
    eye(frame) {
      node.hidden = false;
      eye.show(frame);
      clearTimeout(eye_due);
      eye_due = setTimeout(() => eye.live(false), stale_after_ms);
    },
    forget() {
      blank();
      node.hidden = true;
      eye.node.hidden = true;
    },
  };
}
