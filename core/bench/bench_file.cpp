// SPDX-License-Identifier: Apache-2.0
#include "core/bench/bench_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <utility>

#include "core/bench/bench_file_table.hpp"
#include "core/yaml/fields.hpp"

namespace eyelevel::bench {
namespace {

double half_width(const yaml::Node& group, std::string_view key) {
  const auto found = yaml::Fields(group).tolerance(key, quantity::ratio);
  return found ? found->half_width : 0;
}

class Reader {
 public:
  Reader(yaml::Mistakes& mistakes, BenchFile& bench) : mistakes_(mistakes), bench_(bench) {}

  void read(const yaml::Node& root) {
    yaml::check(root, detail::root_table(), mistakes_);
    const yaml::Fields fields(root);
    bench_.name = fields.text("bench").value_or("");
    bench_.about = fields.text("about").value_or("");
    if (const auto days = fields.count("proof lasts days")) bench_.proof_lasts_s = static_cast<double>(*days) * 86400;
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
    InstrumentEntry instrument;
    instrument.role = entry.key;
    instrument.mark = entry.key_mark;
    if (!is_kind(kind)) {  // without its kind nothing else can be judged
      yaml::Node reduced = entry.value;
      std::erase_if(reduced.entries, [](const yaml::Entry& e) { return e.key != "kind"; });
      yaml::check(reduced, detail::only_kind_table(), mistakes_);
      return;
    }
    if (!yaml::check(entry.value, detail::instrument_table(kind), mistakes_)) return;
    read_common(entry.value, kind, instrument);
    if (kind == "multimeter") read_multimeter(entry.value, instrument);
    if (kind == "oscilloscope") read_oscilloscope(entry.value, instrument);
    if (kind == "power supply") read_power_supply(entry.value, instrument);
    if (kind == "function generator") read_function_generator(entry.value, instrument);
    if (kind == "counter") read_counter(entry.value, instrument);
    if (kind == "relay box") read_ways(entry.value, instrument);
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
    instrument.identity = fields.text("identity").value_or("");
    if (const auto* line = fields.node("line")) {
      instrument.line = line->text;
      instrument.line_mark = line->mark;
    }
    if (const auto* certificate = fields.node("certificate")) {
      const bool is_file = certificate->text.ends_with(".pem");
      instrument.certificate = is_file ? beside(certificate->text) : certificate->text;
      instrument.certificate_mark = certificate->mark;
    }
    if (const auto* login = fields.node("login")) {
      instrument.login = beside(login->text);
      if (instrument.certificate.empty())
        mistakes_.add(login->mark, "'login': a password is said on encrypted connections only",
                      "write certificate: scope.pem, with the instrument's certificate in that file");
    }
    if (const auto* encryption = fields.node("encryption")) {
      instrument.encrypts_login_only = encryption->text == "login only";
      if (instrument.certificate.empty())
        mistakes_.add(encryption->mark, "'encryption': only an instrument with a certificate is spoken to encrypted",
                      "write certificate: scope.pem, with the instrument's certificate in that file");
    }
    for (const InstrumentEntry& other : bench_.instruments)
      if (other.resource == instrument.resource)
        mistakes_.add(instrument.resource_mark,
                      fmt::format("'{}' is also the resource of '{}'", instrument.resource, other.role),
                      "give each instrument its own resource");
  }

  // A file is found from where the bench file lies.
  std::string beside(const std::string& name) const {
    return (std::filesystem::path(bench_.file).parent_path() / name).lexically_normal().string();
  }

  std::string phrasebook_of(const yaml::Node& node) {
    if (node.text.ends_with(".yaml")) return beside(node.text);
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
    instrument.offset_accuracy_v = offset(accuracy, "offset", quantity::voltage, "± 10 mV").value_or(0);
    if (accuracy.find("clock") != nullptr) instrument.clock_accuracy = half_width(accuracy, "clock");
    if (node.find("noise") != nullptr) instrument.noise_v = above_zero(node, "noise", quantity::voltage);
    if (const yaml::Node* calibrator = node.find("calibrator")) read_calibrator(*calibrator, instrument);
    for (const yaml::Entry& entry : node.find("channels")->entries) read_channel(entry, instrument);
  }

  // A half-width in the unit of what is off.
  std::optional<double> offset(const yaml::Node& accuracy, std::string_view key, quantity::Dimension dimension,
                               std::string_view example) {
    const auto found = yaml::Fields(accuracy).tolerance(key, dimension);
    if (!found) return std::nullopt;
    if (found->is_relative)
      mistakes_.add(accuracy.find(key)->mark,
                    fmt::format("'{}': expected a tolerance in {}, found {}", key,
                                dimension == quantity::voltage ? "volts" : "amperes", quantity::print(*found)),
                    fmt::format("write {}: {}", key, example));
    return found->half_width;
  }

  void read_calibrator(const yaml::Node& node, InstrumentEntry& instrument) {
    const auto height = yaml::Fields(node).span("height", quantity::voltage);
    if (!height || !height->nominal || !(*height->low > 0)) {
      mistakes_.add(node.find("height")->mark,
                    fmt::format("'height': expected a voltage above zero with what it may be off, found '{}'",
                                node.find("height")->text),
                    "write height: 1 V ± 1 %");
      return;
    }
    instrument.calibrator = Calibrator{*height->nominal, (*height->high - *height->low) / 2 / *height->nominal};
  }

  void read_power_supply(const yaml::Node& node, InstrumentEntry& instrument) {
    const yaml::Node& accuracy = *node.find("accuracy");
    instrument.voltage_accuracy = half_width(accuracy, "voltage");
    instrument.current_accuracy = half_width(accuracy, "current");
    instrument.voltage_offset_v = offset(accuracy, "voltage offset", quantity::voltage, "± 5 mV");
    instrument.current_offset_a = offset(accuracy, "current offset", quantity::current, "± 2 mA");
    read_outputs(node, instrument, true);
  }

  void read_function_generator(const yaml::Node& node, InstrumentEntry& instrument) {
    const yaml::Node& accuracy = *node.find("accuracy");
    instrument.frequency_accuracy = half_width(accuracy, "frequency");
    instrument.amplitude_accuracy = half_width(accuracy, "amplitude");
    read_outputs(node, instrument, false);
  }

  void read_counter(const yaml::Node& node, InstrumentEntry& instrument) {
    instrument.frequency_accuracy = half_width(*node.find("accuracy"), "frequency");
    instrument.input_resistance_ohm = above_zero(node, "input resistance", quantity::resistance);
  }

  void read_ways(const yaml::Node& node, InstrumentEntry& instrument) {
    for (const yaml::Entry& entry : node.find("ways")->entries) {
      const auto channel = yaml::Fields(entry.value).count("relay").value_or(0);
      const auto mark = entry.value.find("relay")->mark;
      if (channel < 1 || channel > 99999) {
        mistakes_.add(mark, fmt::format("'relay': {} is no number of a relay", channel),
                      "write the number as the instrument's handbook has it, such as 101");
        continue;
      }
      const auto same = std::find_if(instrument.ways.begin(), instrument.ways.end(),
                                     [&](const WayEntry& way) { return way.channel == channel; });
      if (same != instrument.ways.end()) {
        mistakes_.add(mark, fmt::format("'relay': {} is already the way '{}'", channel, same->name),
                      "give each way its own relay");
        continue;
      }
      instrument.ways.push_back({entry.key, static_cast<int>(channel), entry.key_mark});
    }
  }

  void read_outputs(const yaml::Node& node, InstrumentEntry& instrument, bool has_current) {
    for (const yaml::Entry& entry : node.find("outputs")->entries) {
      const auto number = number_at_socket(entry, "output");
      if (!number) continue;
      OutputEntry output;
      output.number = *number;
      output.mark = entry.key_mark;
      output.most_v = above_zero(entry.value, "voltage at most", quantity::voltage);
      if (has_current) output.most_a = above_zero(entry.value, "current at most", quantity::current);
      instrument.outputs.push_back(output);
    }
  }

  std::optional<int> number_at_socket(const yaml::Entry& entry, std::string_view what) {
    const auto number = quantity::parse_count(entry.key);
    if (number && *number >= 1 && *number <= 64) return static_cast<int>(*number);
    mistakes_.add(entry.key_mark, fmt::format("'{}' is no {} number", entry.key, what),
                  "write the number at the instrument's socket, such as 1");
    return std::nullopt;
  }

  void read_channel(const yaml::Entry& entry, InstrumentEntry& instrument) {
    const auto number = number_at_socket(entry, "channel");
    if (!number) return;
    ChannelEntry channel;
    channel.number = *number;
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

const OutputEntry* InstrumentEntry::output(int wanted) const {
  const auto it = std::find_if(outputs.begin(), outputs.end(), [&](const auto& o) { return o.number == wanted; });
  return it == outputs.end() ? nullptr : &*it;
}

const InstrumentEntry* BenchFile::find(std::string_view role) const {
  const auto it = std::find_if(instruments.begin(), instruments.end(), [&](const auto& i) { return i.role == role; });
  return it == instruments.end() ? nullptr : &*it;
}

const std::vector<std::string>& kinds() {
  static const std::vector<std::string> all{"oscilloscope",       "multimeter", "power supply",
                                            "function generator", "counter",    "relay box"};
  return all;
}

bool is_kind(std::string_view name) { return std::find(kinds().begin(), kinds().end(), name) != kinds().end(); }

bool is_bench_file(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "bench"; }

BenchFileRead read_bench_file(yaml::Document document) {
  BenchFileRead result{{}, std::move(document.mistakes)};
  result.bench.file = document.file;
  if (document.root.shape != yaml::Shape::nothing) Reader(result.mistakes, result.bench).read(document.root);
  return result;
}

BenchFileRead read_bench_file(const std::filesystem::path& path) { return read_bench_file(yaml::load_file(path)); }

}  // namespace eyelevel::bench
