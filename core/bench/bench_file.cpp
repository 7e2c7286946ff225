// SPDX-License-Identifier: Apache-2.0
#include "core/bench/bench_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <map>
#include <memory>
#include <utility>

#include "core/yaml/fields.hpp"

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
            .example = "± 10 mV"}}};
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
           .choices = {"oscilloscope", "multimeter"}},
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
          {.name = "line",
           .type = Type::text,
           .help = "of a serial port: baud, data bits with parity and stop bits, flow control",
           .example = "115200 8N1"}};
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
  table.keys.push_back({.name = "channels",
                        .required = true,
                        .type = Type::named,
                        .help = "the channels in use, by number",
                        .example = "{1: {probe: x10, ...}}",
                        .inside = shared(channel_table())});
  return table;
}

KeyTable multimeter_table() {
  KeyTable table{"a multimeter", "", common_keys()};
  table.keys.push_back({.name = "accuracy",
                        .required = true,
                        .type = Type::group,
                        .help = "half-widths from the data sheet",
                        .example = "{reading: ± 0.05 %, range: ± 0.01 %}",
                        .inside = shared(multimeter_accuracy_table())});
  table.keys.push_back({.name = "input resistance",
                        .required = true,
                        .type = Type::quantity,
                        .dimension = quantity::resistance,
                        .help = "what it puts across the pad",
                        .example = "10 MΩ"});
  return table;
}

std::vector<Key> root_keys(KeyTable instrument, Type instruments_are) {
  return {
      {.name = "bench", .required = true, .type = Type::word, .help = "name of the bench", .example = "lanternfield-1"},
      {.name = "about", .type = Type::text, .help = "one line", .example = "the bench by the window"},
      {.name = "instruments",
       .required = true,
       .type = instruments_are,
       .help = "the instruments, each under the role by which sequences call it",
       .example = "{scope: {kind: oscilloscope, ...}}",
       .inside = shared(std::move(instrument))}};
}

double half_width(const yaml::Node& group, std::string_view key) {
  const auto found = yaml::Fields(group).tolerance(key, quantity::ratio);
  return found ? found->half_width : 0;
}

class Reader {
 public:
  Reader(yaml::Mistakes& mistakes, BenchFile& bench) : mistakes_(mistakes), bench_(bench) {}

  void read(const yaml::Node& root) {
    const KeyTable table{"a bench file", "", root_keys({}, Type::own)};
    yaml::check(root, table, mistakes_);
    const yaml::Fields fields(root);
    bench_.name = fields.text("bench").value_or("");
    bench_.about = fields.text("about").value_or("");
    const yaml::Node* instruments = fields.node("instruments");
    if (instruments == nullptr || instruments->shape == yaml::Shape::nothing) return;
    if (instruments->shape != yaml::Shape::map || instruments->entries.empty()) {
      mistakes_.add(instruments->mark, "'instruments': expected a group of roles, each with its instrument",
                    "write scope: {kind: oscilloscope, ...} below it");
      return;
    }
    for (const yaml::Entry& entry : instruments->entries) read_instrument(entry);
  }

 private:
  void read_instrument(const yaml::Entry& entry) {
    const std::string kind = yaml::Fields(entry.value).text("kind").value_or("");
    const bool is_meter = kind == "multimeter";
    InstrumentEntry instrument;
    instrument.role = entry.key;
    instrument.mark = entry.key_mark;
    const bool kind_is_known = is_meter || kind == "oscilloscope";
    if (!kind_is_known) {  // without its kind nothing else can be judged
      KeyTable only_kind{"an instrument", "", {common_keys().front()}};
      yaml::Node reduced = entry.value;
      std::erase_if(reduced.entries, [](const yaml::Entry& e) { return e.key != "kind"; });
      yaml::check(reduced, only_kind, mistakes_);
      return;
    }
    if (!yaml::check(entry.value, is_meter ? multimeter_table() : oscilloscope_table(), mistakes_)) return;
    read_common(entry.value, kind, instrument);
    if (is_meter) {
      read_multimeter(entry.value, instrument);
    } else {
      read_oscilloscope(entry.value, instrument);
    }
    bench_.instruments.push_back(std::move(instrument));
  }

  void read_common(const yaml::Node& node, const std::string& kind, InstrumentEntry& instrument) {
    const yaml::Fields fields(node);
    instrument.kind = kind;
    instrument.resource = fields.text("resource").value_or("");
    instrument.resource_mark = fields.node("resource")->mark;
    instrument.phrasebook = phrasebook_of(*fields.node("phrasebook"));
    instrument.phrasebook_mark = fields.node("phrasebook")->mark;
    instrument.calibration_due = fields.text("calibration due").value_or("");
    if (const auto* line = fields.node("line")) {
      instrument.line = line->text;
      instrument.line_mark = line->mark;
    }
    for (const InstrumentEntry& other : bench_.instruments)
      if (other.resource == instrument.resource)
        mistakes_.add(instrument.resource_mark,
                      fmt::format("'{}' is also the resource of '{}'", instrument.resource, other.role),
                      "give each instrument its own resource");
  }

  // A file is found from where the bench file lies.
  std::string phrasebook_of(const yaml::Node& node) {
    if (node.text.ends_with(".yaml"))
      return (std::filesystem::path(bench_.file).parent_path() / node.text).lexically_normal().string();
    const bool is_name = !node.text.empty() && node.text.find_first_of(" /\\.") == std::string::npos;
    if (!is_name)
      mistakes_.add(node.mark, fmt::format("'phrasebook': '{}' is neither a name nor a .yaml file", node.text),
                    "write phrasebook: standard-digitiser, or the name of a file that ends in .yaml");
    return node.text;
  }

  void read_multimeter(const yaml::Node& node, InstrumentEntry& instrument) {
    const yaml::Node& accuracy = *node.find("accuracy");
    instrument.reading_accuracy = half_width(accuracy, "reading");
    instrument.range_accuracy = half_width(accuracy, "range");
    instrument.input_resistance_ohm = above_zero(node, "input resistance", quantity::resistance);
  }

  void read_oscilloscope(const yaml::Node& node, InstrumentEntry& instrument) {
    const yaml::Node& accuracy = *node.find("accuracy");
    instrument.gain_accuracy = half_width(accuracy, "gain");
    const auto offset = yaml::Fields(accuracy).tolerance("offset", quantity::voltage);
    if (offset && offset->is_relative)
      mistakes_.add(accuracy.find("offset")->mark,
                    fmt::format("'offset': expected a tolerance in volts, found {}", quantity::print(*offset)),
                    "write offset: ± 10 mV");
    instrument.offset_accuracy_v = offset ? offset->half_width : 0;
    for (const yaml::Entry& entry : node.find("channels")->entries) read_channel(entry, instrument);
  }

  void read_channel(const yaml::Entry& entry, InstrumentEntry& instrument) {
    const auto number = quantity::parse_count(entry.key);
    if (!number || *number < 1 || *number > 64) {
      mistakes_.add(entry.key_mark, fmt::format("'{}' is no channel number", entry.key),
                    "write the number at the instrument's socket, such as 1");
      return;
    }
    ChannelEntry channel;
    channel.number = static_cast<int>(*number);
    channel.mark = entry.key_mark;
    channel.probe_factor = above_zero(entry.value, "probe", quantity::ratio);
    channel.probe_accuracy = half_width(entry.value, "probe accuracy");
    channel.probe_compensation = half_width(entry.value, "probe compensation");
    channel.probe_resistance_ohm = above_zero(entry.value, "probe resistance", quantity::resistance);
    channel.probe_capacitance_f =
        yaml::Fields(entry.value).quantity("probe capacitance", quantity::capacitance).value_or(0);
    instrument.channels.push_back(channel);
  }

  double above_zero(const yaml::Node& group, std::string_view key, quantity::Dimension dimension) {
    const double value = yaml::Fields(group).quantity(key, dimension).value_or(0);
    if (value <= 0)
      mistakes_.add(group.find(key)->mark,
                    fmt::format("'{}': expected more than zero, found '{}'", key, group.find(key)->text),
                    fmt::format("write {} such as {}", quantity::with_article(dimension),
                                dimension == quantity::ratio ? "x10" : quantity::example_of(dimension)));
    return value;
  }

  yaml::Mistakes& mistakes_;
  BenchFile& bench_;
};

}  // namespace

const ChannelEntry* InstrumentEntry::channel(int wanted) const {
  const auto it = std::find_if(channels.begin(), channels.end(), [&](const auto& c) { return c.number == wanted; });
  return it == channels.end() ? nullptr : &*it;
}

const InstrumentEntry* BenchFile::find(std::string_view role) const {
  const auto it = std::find_if(instruments.begin(), instruments.end(), [&](const auto& i) { return i.role == role; });
  return it == instruments.end() ? nullptr : &*it;
}

bool is_bench_file(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "bench"; }

BenchFileRead read_bench_file(yaml::Document document) {
  BenchFileRead result{{}, std::move(document.mistakes)};
  result.bench.file = document.file;
  if (document.root.shape != yaml::Shape::nothing) Reader(result.mistakes, result.bench).read(document.root);
  return result;
}

BenchFileRead read_bench_file(const std::filesystem::path& path) { return read_bench_file(yaml::load_file(path)); }

yaml::KeyTable bench_file_table() {
  KeyTable instrument = oscilloscope_table();
  instrument.name = "an instrument";
  KeyTable accuracy = oscilloscope_accuracy_table();
  for (Key key : multimeter_accuracy_table().keys) accuracy.keys.push_back(std::move(key));
  for (Key& key : accuracy.keys) key.required = false;
  accuracy.about = "gain and offset of an oscilloscope, reading and range of a multimeter";
  for (Key& key : instrument.keys) {
    if (key.name == "accuracy") key.inside = shared(accuracy);
    if (key.name == "channels") key.required = false;
  }
  Key resistance = multimeter_table().keys.back();
  resistance.required = false;
  instrument.keys.push_back(std::move(resistance));
  return {"a bench file", "the instruments that stand together", root_keys(std::move(instrument), Type::named)};
}

}  // namespace eyelevel::bench
