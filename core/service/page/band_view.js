// SPDX-License-Identifier: Apache-2.0
// The band: low / in limits / high as words, hatching and colour, a mark where the value stands and a bar for its
// uncertainty. Moving the mark is all that is done at each look.
import {place_on_band, word_of, zones} from "./band.js";
import {element} from "./dom.js";

function percent(share) { return `${(share * 100).toFixed(2)}%`; }

// { node, show(value, expanded), blank() } for these limits.
export function band(say, at_least, at_most) {
  const reach = element("span", {class: "band-reach"});
  const mark = element("span", {class: "band-mark"});
  const track = element(
      "div", {class: "band-track"}, ...zones(at_least, at_most).map((zone) => {
        const part = element(
            "span", {class: `zone zone-${zone.word}`}, element("span", {class: "zone-word"}, say(`band.${zone.word}`)));
        part.style.flexGrow = String(zone.share * 100);
        return part;
      }),
      reach, mark);
  const node = element("div", {class: "band", "aria-hidden": "true"}, track);
  const blank = () => node.classList.add("band-blank");
  const show = (value, expanded) => {
    const place = place_on_band(value, expanded, at_least, at_most);
    node.classList.remove("band-blank");
    mark.style.left = percent(place.at);
    mark.dataset.off = place.off;
    reach.style.left = percent(place.from);
    reach.style.width = percent(place.to - place.from);
    return word_of(value, expanded, at_least, at_most);
  };
  blank();
  return {node, show, blank};
}
