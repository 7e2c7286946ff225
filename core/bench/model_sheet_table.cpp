// SPDX-License-Identifier: Apache-2.0
// The keys of a model sheet (declared in model_sheet.hpp); reading them is model_sheet.cpp.
#include <memory>
#include <utility>

#include "core/bench/model_sheet.hpp"

namespace eyelevel::bench {
namespace {

using yaml::KeyTable;
using yaml::Type;

std::shared_ptr<const KeyTable> pad_table() {
  return std::make_shared<const KeyTable>(KeyTable{
      "the pad",
      "where the RF signal is taken",
      {{.name = "where",
        .required = true,
        .type = Type::text,
        .help = "so that a stranger finds it",
        .example = "test point TP2 beside the ribbon connector"},
       {.name = "photo", .type = Type::text, .help = "picture file beside the sheet", .example = "lf-2-pad.png"},
       {.name = "coupling",
        .required = true,
        .type = Type::word,
        .help = "whether the pad carries the d.c. level",
        .example = "dc",
        .choices = {"dc", "ac"}},
       {.name = "point",
        .required = true,
        .type = Type::word,
        .help = "where in the player's signal path",
        .example = "before equaliser",
        .choices = {"before equaliser", "after equaliser", "after gain control"}},
       {.name = "light raises voltage",
        .required = true,
        .type = Type::yes_no,
        .help = "sense of the pad: yes when more light is a higher voltage",
        .example = "yes"},
       {.name = "source resistance",
        .required = true,
        .type = Type::span,
        .dimension = quantity::resistance,
        .help = "what the pad looks like from the probe",
        .example = "1 kΩ ± 20 %"}}});
}

std::shared_ptr<const KeyTable> reference_table() {
  return std::make_shared<const KeyTable>(
      KeyTable{"the reference",
               "the mid-supply node; it must never be grounded",
               {{.name = "where", .required = true, .type = Type::text, .help = "", .example = "TP5, marked VREF"},
                {.name = "voltage",
                 .type = Type::span,
                 .dimension = quantity::voltage,
                 .help = "against circuit ground",
                 .example = "2.5 V ± 3 %"}}});
}

std::shared_ptr<const KeyTable> speed_table() {
  return std::make_shared<const KeyTable>(
      KeyTable{"the speed",
               "how fast the disc is read",
               {{.name = "audio",
                 .required = true,
                 .type = Type::quantity,
                 .dimension = quantity::ratio,
                 .help = "on an audio track",
                 .example = "x1"},
                {.name = "data",
                 .required = true,
                 .type = Type::quantity,
                 .dimension = quantity::ratio,
                 .help = "on a data track",
                 .example = "x2"},
                {.name = "reading",
                 .required = true,
                 .type = Type::word,
                 .help = "whether it reads all the time or fills a memory now and then",
                 .example = "continuous",
                 .choices = {"continuous", "in bursts"}}}});
}

std::shared_ptr<const KeyTable> trimmer_table() {
  return std::make_shared<const KeyTable>(KeyTable{"the trimmer",
                                                   "sets the laser's power",
                                                   {{.name = "where",
                                                     .required = true,
                                                     .type = Type::text,
                                                     .help = "so that a stranger finds it and no other",
                                                     .example = "on the pickup's own board"},
                                                    {.name = "clockwise",
                                                     .required = true,
                                                     .type = Type::word,
                                                     .help = "what a clockwise turn does to the level",
                                                     .example = "raises",
                                                     .choices = {"raises", "lowers", "unknown"}},
                                                    {.name = "player off while turning",
                                                     .required = true,
                                                     .type = Type::yes_no,
                                                     .help = "no only where the maker's service data allow it",
                                                     .example = "yes"},
                                                    {.name = "service data",
                                                     .type = Type::text,
                                                     .help = "what allows turning it live",
                                                     .example = "service manual, section 5.2"},
                                                    {.name = "resistance",
                                                     .type = Type::span,
                                                     .dimension = quantity::resistance,
                                                     .help = "in circuit, player off and discharged",
                                                     .example = "2 kΩ to 9 kΩ"}}});
}

std::shared_ptr<const KeyTable> laser_current_table() {
  return std::make_shared<const KeyTable>(KeyTable{
      "the laser current",
      "how it is measured",
      {{.name = "series resistor",
        .required = true,
        .type = Type::span,
        .dimension = quantity::resistance,
        .help = "the driver's, across which the voltage is taken",
        .example = "10 Ω ± 5 %"},
       {.name = "where", .required = true, .type = Type::text, .help = "", .example = "R17 beside the driver"},
       {.name = "label",
        .type = Type::quantity,
        .dimension = quantity::current,
        .help = "usual figure on this model's pickup labels; the unit's own label wins",
        .example = "45 mA"},
       {.name = "power loop",
        .type = Type::yes_no,
        .help = "whether a monitor diode holds the light, so that wear shows in the current and not in the level",
        .example = "yes"}}});
}

std::shared_ptr<const KeyTable> service_value_table() {
  return std::make_shared<const KeyTable>(
      KeyTable{"the service value",
               "what the maker says the level should be",
               {{.name = "level",
                 .required = true,
                 .type = Type::span,
                 .dimension = quantity::voltage,
                 .help = "peak to peak on a pressed disc",
                 .example = "1.20 V ± 10 %"},
                {.name = "read as",
                 .required = true,
                 .type = Type::word,
                 .help = "outer edges of a thick trace lie above the settled levels",
                 .example = "settled levels",
                 .choices = {"settled levels", "outer edges"}}}});
}

std::shared_ptr<const KeyTable> pickup_table() {
  return std::make_shared<const KeyTable>(
      KeyTable{"the pickup",
               "the part itself",
               {{.name = "part", .required = true, .type = Type::text, .help = "its number", .example = "LF-P2"},
                {.name = "connectors",
                 .type = Type::texts,
                 .help = "in the order in which they are unplugged",
                 .example = "[16-way ribbon, 6-way sled motor]"}}});
}

std::shared_ptr<const KeyTable> visit_table() {
  return std::make_shared<const KeyTable>(
      KeyTable{"the visit",
               "what a serial number that is scanned at a bench begins",
               {{.name = "serials begin with",
                 .required = true,
                 .type = Type::texts,
                 .help = "by which units of this model are known; the longest beginning of all sheets counts",
                 .example = "[LF2-]"},
                {.name = "sequence",
                 .required = true,
                 .type = Type::text,
                 .help = "as the daemon lists it",
                 .example = "ready/pickup-level.yaml"}}});
}

}  // namespace

yaml::KeyTable model_sheet_table() {
  return {"a model sheet",
          "all that a bench must know of one type of player",
          {{.name = "model", .required = true, .type = Type::word, .help = "name of the type", .example = "LF-2"},
           {.name = "about", .type = Type::text, .help = "one line", .example = "portable player of the loan service"},
           {.name = "cautions",
            .type = Type::texts,
            .help = "shown before the first step, besides the usual ones",
            .example = "[the chassis is live]"},
           {.name = "pad",
            .required = true,
            .type = Type::group,
            .help = "where the RF signal is taken",
            .example = "{where: TP2, ...}",
            .inside = pad_table()},
           {.name = "ground",
            .required = true,
            .type = Type::text,
            .help = "the node where the oscilloscope's ground goes",
            .example = "TP1, the shield of the ribbon connector"},
           {.name = "reference",
            .type = Type::group,
            .help = "the mid-supply node that must never be grounded",
            .example = "{where: TP5}",
            .inside = reference_table()},
           {.name = "dark level",
            .type = Type::text,
            .help = "how it is had: laser off, amplifier alive",
            .example = "player on, door open, no disc"},
           {.name = "speed",
            .required = true,
            .type = Type::group,
            .help = "how fast the disc is read",
            .example = "{audio: x1, data: x2, reading: continuous}",
            .inside = speed_table()},
           {.name = "audio track",
            .required = true,
            .type = Type::text,
            .help = "how one is reached",
            .example = "press play, then next until the display shows 2"},
           {.name = "trimmer",
            .type = Type::group,
            .help = "sets the laser's power; without it nothing is adjusted",
            .example = "{where: on the pickup's own board, ...}",
            .inside = trimmer_table()},
           {.name = "laser current",
            .type = Type::group,
            .help = "how it is measured",
            .example = "{series resistor: 10 Ω ± 5 %, where: R17}",
            .inside = laser_current_table()},
           {.name = "service value",
            .type = Type::group,
            .help = "what the maker says the level should be",
            .example = "{level: 1.20 V ± 10 %, read as: settled levels}",
            .inside = service_value_table()},
           {.name = "order of adjustments",
            .type = Type::texts,
            .help = "first to last",
            .example = "[level, focus offset, tracking balance]"},
           {.name = "mains",
            .type = Type::word,
            .help = "whether the circuit is isolated from the mains (also by batteries) or the chassis may be live",
            .example = "isolated",
            .choices = {"isolated", "live"}},
           {.name = "pickup",
            .type = Type::group,
            .help = "the part itself",
            .example = "{part: LF-P2}",
            .inside = pickup_table()},
           {.name = "visit",
            .type = Type::group,
            .help = "what a serial number that is scanned at a bench begins",
            .example = "{serials begin with: [LF2-], sequence: ready/pickup-level.yaml}",
            .inside = visit_table()}}};
}

}  // namespace eyelevel::bench
