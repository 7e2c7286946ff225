// SPDX-License-Identifier: Apache-2.0
#include "core/bench/bench_file_table.hpp"

#include <algorithm>
#include <memory>
#include <utility>

#include "core/bench/bench_file.hpp"

namespace eyelevel::bench {
namespace {

using yaml::Key;
using yaml::KeyTable;
using yaml::Type;

KeyTable channel_table() {
  return {"a channel",
          "what hangs on one channel",
          {{.name = "probe",
            .required = true,
            .type = Type::quantity,
            .dimension = quantity::ratio,
            .help = "factor of the probe, as written on it",
            .example = "x10"},
           {.name = "probe accuracy",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "of the factor at d.c., from the probe's data sheet",
            .example = "± 1 %"},
           {.name = "probe compensation",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "what is left after compensating it at the instrument's square wave",
            .example = "± 0.5 %"},
           {.name = "probe resistance",
            .required = true,
            .type = Type::quantity,
            .dimension = quantity::resistance,
            .help = "what the probe puts across the pad at d.c.",
            .example = "10 MΩ"},
           {.name = "probe capacitance",
            .required = true,
            .type = Type::quantity,
            .dimension = quantity::capacitance,
            .help = "what the probe puts across the pad at high frequency, with its lead",
            .example = "12 pF"}}};
}

KeyTable oscilloscope_accuracy_table() {
  return {"the accuracy of an oscilloscope",
          "half-widths from the data sheet",
          {{.name = "gain",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "of the vertical gain",
            .example = "± 1.5 %"},
           {.name = "offset",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::voltage,
            .help = "of the vertical position, at the probe tip",
            .example = "± 10 mV"},
           {.name = "clock",
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "of the sample clock",
            .example = "± 25 ppm"}}};
}

KeyTable multimeter_accuracy_table() {
  return {"the accuracy of a multimeter",
          "half-widths from the data sheet",
          {{.name = "reading",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "of the reading",
            .example = "± 0.05 %"},
           {.name = "range",
            .required = true,
            .type = Type::tolerance,
            .dimension = quantity::ratio,
            .help = "of the range",
            .example = "± 0.01 %"}}};
}

std::vector<Key> common_keys() {
  return {{.name = "kind",
           .required = true,
           .type = Type::word,
           .help = "what it can do",
           .example = "oscilloscope",
           .choices = kinds()},
          {.name = "resource",
           .required = true,
           .type = Type::text,
           .help = "how it is reached (VISA resource name)",
           .example = "TCPIP0::192.0.2.10::5025::SOCKET"},
          {.name = "phrasebook",
           .required = true,
           .type = Type::text,
           .help = "how it is spoken to: the name of one that is built in, or a .yaml file beside the bench file",
           .example = "standard-digitiser"},
          {.name = "calibration due",
           .type = Type::date,
           .help = "from its calibration label; printed on every sheet",
           .example = "2030-06-30"},
          {.name = "identity",
           .type = Type::text,
           .help = "how its answer to who it is must begin; a proof of the bench looks at it",
           .example = "Maker,Model,SN 12"},
          {.name = "line",
           .type = Type::text,
           .help = "of a serial port: baud, data bits with parity and stop bits, flow control",
           .example = "115200 8N1"},
          {.name = "certificate",
           .type = Type::text,
           .help = "of a HiSLIP instrument, which is then spoken to encrypted only: its SHA-256 fingerprint, or a .pem "
                   "file beside the bench file",
           .example = "scope.pem"},
          {.name = "login",
           .type = Type::text,
           .help = "a file beside the bench file with USER:PASSWORD, for an instrument with a certificate",
           .example = "scope.login"},
          {.name = "encryption",
           .type = Type::word,
           .help = "of an instrument with a certificate: all of the time, unless it says otherwise here",
           .example = "login only",
           .choices = {"always", "login only"}}};
}

std::shared_ptr<const KeyTable> shared(KeyTable table) { return std::make_shared<const KeyTable>(std::move(table)); }

KeyTable oscilloscope_table() {
  KeyTable table{"an oscilloscope", "", common_keys()};
  table.keys.push_back({.name = "accuracy",
                        .required = true,
                        .type = Type::group,
                        .help = "half-widths from the data sheet",
                        .example = "{gain: ± 1.5 %, offset: ± 10 mV}",
                        .inside = shared(oscilloscope_accuracy_table())});
  table.keys.push_back({.name = "noise",
                        .type = Type::quantity,
                        .dimension = quantity::voltage,
                        .help =
                            "the most that it shows of a quiet input on the screen of the bench proof, r.m.s. at the "
                            "probe tip",
                        .example = "6 mV"});
  table.keys.push_back({.name = "calibrator",
                        .type = Type::group,
                        .help = "the square wave that it gives for its probes",
                        .example = "{height: 1 V ± 1 %}",
                        .inside = shared(KeyTable{"a calibrator",
                                                  "the square wave that an oscilloscope gives for its probes",
                                                  {{.name = "height",
                                                    .required = true,
                                                    .type = Type::span,
                                                    .dimension = quantity::voltage,
                                                    .help = "from low to high",
                                                    .example = "1 V ± 1 %"}}})});
  table.keys.push_back({.name = "channels",
                        .required = true,
                        .type = Type::named,
                        .help = "the channels in use, by number",
                        .example = "{1: {probe: x10, ...}}",
                        .inside = shared(channel_table())});
  return table;
}

Key input_resistance_key(std::string help, std::string example) {
  return {.name = "input resistance",
          .required = true,
          .type = Type::quantity,
          .dimension = quantity::resistance,
          .help = std::move(help),
          .example = std::move(example)};
}

KeyTable multimeter_table() {
  KeyTable table{"a multimeter", "", common_keys()};
  table.keys.push_back({.name = "accuracy",
                        .required = true,
                        .type = Type::group,
                        .help = "half-widths from the data sheet",
                        .example = "{reading: ± 0.05 %, range: ± 0.01 %}",
                        .inside = shared(multimeter_accuracy_table())});
  table.keys.push_back(input_resistance_key("what it puts across the pad", "10 MΩ"));
  return table;
}

Key accuracy_key(KeyTable inside, std::string example) {
  return {.name = "accuracy",
          .required = true,
          .type = Type::group,
          .help = "half-widths from the data sheet",
          .example = std::move(example),
          .inside = shared(std::move(inside))};
}

Key half_width_key(std::string name, std::string help, std::string example) {
  return {.name = std::move(name),
          .required = true,
          .type = Type::tolerance,
          .dimension = quantity::ratio,
          .help = std::move(help),
          .example = std::move(example)};
}

Key offset_key(std::string name, quantity::Dimension dimension, std::string help, std::string example) {
  return {.name = std::move(name),
          .type = Type::tolerance,
          .dimension = dimension,
          .help = std::move(help),
          .example = std::move(example)};
}

Key outputs_key(KeyTable inside, std::string example) {
  return {.name = "outputs",
          .required = true,
          .type = Type::named,
          .help = "the outputs in use, by number, with what may never be asked of them",
          .example = std::move(example),
          .inside = shared(std::move(inside))};
}

Key voltage_at_most() {
  return {.name = "voltage at most",
          .required = true,
          .type = Type::quantity,
          .dimension = quantity::voltage,
          .help = "what hangs on the output bears no more",
          .example = "5.5 V"};
}

KeyTable power_supply_table() {
  KeyTable table{"a power supply", "", common_keys()};
  table.keys.push_back(accuracy_key({"the accuracy of a power supply",
                                     "half-widths from the data sheet",
                                     {half_width_key("voltage", "of the voltage set and read", "± 0.1 %"),
                                      half_width_key("current", "of the current set and read", "± 0.5 %"),
                                      offset_key("voltage offset", quantity::voltage,
                                                 "beside it, of the voltage read; else 0.1 % of the most", "± 5 mV"),
                                      offset_key("current offset", quantity::current,
                                                 "beside it, of the current read; else 0.1 % of the most", "± 2 mA")}},
                                    "{voltage: ± 0.1 %, current: ± 0.5 %}"));
  table.keys.push_back(outputs_key({"an output",
                                    "what may never be asked of one output",
                                    {voltage_at_most(),
                                     {.name = "current at most",
                                      .required = true,
                                      .type = Type::quantity,
                                      .dimension = quantity::current,
                                      .help = "the highest limit that may be set",
                                      .example = "500 mA"}}},
                                   "{1: {voltage at most: 5.5 V, current at most: 500 mA}}"));
  return table;
}

KeyTable function_generator_table() {
  KeyTable table{"a function generator", "", common_keys()};
  table.keys.push_back(accuracy_key({"the accuracy of a function generator",
                                     "half-widths from the data sheet",
                                     {half_width_key("frequency", "of the frequency", "± 0.002 %"),
                                      half_width_key("amplitude", "of the amplitude", "± 1 %")}},
                                    "{frequency: ± 0.002 %, amplitude: ± 1 %}"));
  table.keys.push_back(outputs_key({"an output", "what may never be asked of one output", {voltage_at_most()}},
                                   "{1: {voltage at most: 5 V}}"));
  return table;
}

KeyTable counter_table() {
  KeyTable table{"a counter", "", common_keys()};
  table.keys.push_back(accuracy_key({"the accuracy of a counter",
                                     "half-widths from the data sheet",
                                     {half_width_key("frequency", "of its time base", "± 0.0001 %")}},
                                    "{frequency: ± 0.0001 %}"));
  table.keys.push_back(input_resistance_key("what it puts across what it counts", "1 MΩ"));
  return table;
}

KeyTable relay_box_table() {
  KeyTable way{"a way",
               "one relay that may be closed",
               {{.name = "relay",
                 .required = true,
                 .type = Type::count,
                 .help = "its number, as the instrument's handbook has it",
                 .example = "101"}}};
  KeyTable table{"a relay box", "", common_keys()};
  table.keys.push_back({.name = "ways",
                        .required = true,
                        .type = Type::named,
                        .help = "the relays that may be closed, each under the name by which it is asked for",
                        .example = "{pad: {relay: 101}, calibrator: {relay: 102}}",
                        .inside = shared(std::move(way))});
  return table;
}

std::vector<Key> root_keys(KeyTable instrument, Type instruments_are) {
  return {
      {.name = "bench", .required = true, .type = Type::word, .help = "name of the bench", .example = "lanternfield-1"},
      {.name = "about", .type = Type::text, .help = "one line", .example = "the bench by the window"},
      {.name = "proof lasts days",
       .type = Type::count,
       .help = "how long a proof of the bench is taken to hold (usual: 30)",
       .example = "7"},
      {.name = "instruments",
       .required = true,
       .type = instruments_are,
       .help = "the instruments, each under the role by which sequences call it",
       .example = "{scope: {kind: oscilloscope, ...}}",
       .inside = shared(std::move(instrument))}};
}

bool has_key(const KeyTable& table, const std::string& name) { return table.find(name) != nullptr; }

// The keys of all, none required that are not everybody's.
void merge(KeyTable& into, const KeyTable& from, const std::vector<Key>& everybody) {
  for (const Key& key : from.keys) {
    if (has_key(into, key.name)) continue;
    Key copy = key;
    copy.required = key.required && std::any_of(everybody.begin(), everybody.end(),
                                                [&](const Key& common) { return common.name == key.name; });
    into.keys.push_back(std::move(copy));
  }
}

}  // namespace

namespace detail {

KeyTable root_table() { return {"a bench file", "", root_keys({}, Type::own)}; }

KeyTable only_kind_table() { return {"an instrument", "", {common_keys().front()}}; }

KeyTable instrument_table(std::string_view kind) {
  if (kind == "multimeter") return multimeter_table();
  if (kind == "power supply") return power_supply_table();
  if (kind == "function generator") return function_generator_table();
  if (kind == "counter") return counter_table();
  if (kind == "relay box") return relay_box_table();
  return oscilloscope_table();
}

}  // namespace detail

yaml::KeyTable bench_file_table() {
  KeyTable instrument{"an instrument", "", common_keys()};
  KeyTable accuracy{"the accuracy of an instrument", "half-widths from the data sheet, as its kind has them", {}};
  KeyTable output{"an output", "what may never be asked of one output", {}};
  for (const std::string& kind : kinds()) {
    const KeyTable one = detail::instrument_table(kind);
    if (const Key* key = one.find("accuracy")) merge(accuracy, *key->inside, {});
    if (const Key* key = one.find("outputs")) merge(output, *key->inside, {voltage_at_most()});
    merge(instrument, one, common_keys());
  }
  for (Key& key : instrument.keys) {
    if (key.name == "accuracy") key.inside = shared(accuracy);
    if (key.name == "outputs") key.inside = shared(output);
  }
  return {"a bench file", "the instruments that stand together", root_keys(std::move(instrument), Type::named)};
}

}  // namespace eyelevel::bench
