// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/set_up.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/runner/apply.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class SetUp final : public Action {
 public:
  SetUp(SignalPlace signal, const SignalSetUp& setting) : signal_(std::move(signal)), setting_(setting) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.progress() = signal_.role + " has not confirmed its settings";
    const std::vector<bench::SettingTaken> taken = co_await apply(context, signal_, setting_);
    for (const bench::SettingTaken& t : taken)
      context.tell(event::Set{step.place, signal_.role, t.setting, t.asked, t.read_back});
    context.is_set_up(signal_.name, as_taken(taken));
    context.is_off(signal_.name);
    co_return std::monostate{};
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    const bench::InstrumentEntry* entry = bench.find(signal_.role);
    if (entry) check_output(step, *entry, mistakes);
    const bench::ChannelEntry* channel = entry ? entry->channel(signal_.channel) : nullptr;
    if (!channel || !setting_.channel || channel->probe_factor == setting_.channel->probe_factor) return;
    mistakes.add(
        {step.place.line, step.place.column},
        fmt::format("`probe: x{:g}` is asked for, but by the bench file {} channel {} has a x{:g} probe",
                    setting_.channel->probe_factor, signal_.role, signal_.channel, channel->probe_factor),
        fmt::format("look at the probe: write `probe: x{:g}` here, or mend the bench file", channel->probe_factor));
  }
  base::ErrorCode when_late() const override { return base::ErrorCode::time_out; }
  std::string advice_when_late() const override { return "is the instrument on, and does nobody else hold it?"; }

 private:
  // What hangs on an output bears no more than the bench file says.
  void check_output(const Step& step, const bench::InstrumentEntry& entry, yaml::Mistakes& mistakes) const {
    const bench::OutputEntry* output = entry.output(signal_.channel);
    if (!output) return;
    const auto refuse = [&](double asked, double most, quantity::Dimension unit) {
      if (!(asked > most)) return;
      mistakes.add(
          {step.place.line, step.place.column},
          fmt::format("{} is asked for, but by the bench file {} output {} may give {} at most",
                      quantity::print({asked, unit}), signal_.role, signal_.channel, quantity::print({most, unit})),
          "ask for less, or look what hangs on the output and mend the bench file");
    };
    if (setting_.output) refuse(setting_.output->voltage_v, output->most_v, quantity::voltage);
    if (setting_.output) refuse(setting_.output->current_limit_a, output->most_a, quantity::current);
    if (setting_.given)
      refuse(std::abs(setting_.given->offset_v) + setting_.given->peak_to_peak_v / 2, output->most_v,
             quantity::voltage);
  }

  // A multimeter takes the next larger range that it has, and its accuracy is stated of that one.
  SignalSetUp as_taken(const std::vector<bench::SettingTaken>& taken) const {
    SignalSetUp how = setting_;
    for (const bench::SettingTaken& t : taken) {
      if (!how.dc || t.setting.find("range") == std::string::npos) continue;
      const auto range = quantity::scan_quantity(t.read_back);
      if (range) how.dc->range_v = std::max(how.dc->range_v, range->value.si);
    }
    return how;
  }

  SignalPlace signal_;
  SignalSetUp setting_;
};

// The screen is what must be shown at least. A unit that is out of its limits goes a little beyond it and is to be
// measured, not cut; the price is a converter step larger by 1.3.
constexpr double headroom = 0.15;

struct KeysOfKind {
  std::string_view kind;
  std::string_view in_words;
  std::vector<std::string> keys;
};
const std::vector<KeysOfKind>& keys_of_kinds() {
  static const std::vector<KeysOfKind> all{
      {"oscilloscope", "an oscilloscope", {"probe", "coupling", "screen", "bandwidth"}},
      {"multimeter", "a multimeter", {"range", "aperture"}},
      {"counter", "a counter", {"coupling", "level", "gate"}},
      {"power supply", "a power supply", {"voltage", "current at most", "off above"}},
      {"function generator", "a function generator", {"shape", "frequency", "peak to peak", "offset"}}};
  return all;
}

const KeysOfKind& keys_of(const SignalPlace& signal) {
  const auto& all = keys_of_kinds();
  return *std::find_if(all.begin(), all.end(), [&](const KeysOfKind& k) { return k.kind == signal.kind; });
}

// Keys that only other kinds of instrument have.
void refuse_others(StepReader& reader, const SignalPlace& signal) {
  const KeysOfKind& own = keys_of(signal);
  const auto is_own = [&](const std::string& key) {
    return std::find(own.keys.begin(), own.keys.end(), key) != own.keys.end();
  };
  std::set<std::string> told;
  for (const KeysOfKind& other : keys_of_kinds())
    for (const std::string& key : other.keys) {
      const yaml::Node* node = is_own(key) ? nullptr : reader.fields.node(key);
      if (!node || !told.insert(key).second) continue;
      std::vector<std::string> before_last(own.keys.begin(), own.keys.end() - 1);
      reader.report(
          *node,
          fmt::format("'{}' is {} by {}, which has no {}", signal.name,
                      signal.kind == "power supply" || signal.kind == "function generator" ? "given" : "measured",
                      own.in_words, key),
          fmt::format("leave it out; {} takes {} and {}", own.in_words, fmt::join(before_last, ", "), own.keys.back()));
    }
}

void demand(StepReader& reader, const SignalPlace& signal, std::string_view key, std::string_view example) {
  if (!reader.fields.has(key))
    reader.report(reader.node(), fmt::format("set up of '{}' does not say its {}", signal.name, key),
                  fmt::format("write `{}: {}`", key, example));
}

ReadStep scope(StepReader& reader, const SignalPlace& signal) {
  demand(reader, signal, "probe", "x10");
  demand(reader, signal, "coupling", "dc");
  demand(reader, signal, "screen", "0.6 V to 2.6 V at the probe tip");
  bench::ChannelSetting setting;
  const auto probe = reader.fields.quantity("probe", quantity::ratio);
  if (probe && !(*probe > 0 && *probe <= 10000))
    reader.report("probe", fmt::format("a probe of x{} cannot be", *probe),
                  "write the factor of the probe, such as `x10`");
  setting.probe_factor = probe.value_or(1);
  setting.coupling = reader.text("coupling") == "ac" ? bench::Coupling::ac : bench::Coupling::dc;
  if (const yaml::Node* node = reader.fields.node("screen"))
    if (const auto screen = read_screen(*node, reader.mistakes())) {
      const double more_v = headroom * (*screen->high - *screen->low);
      setting.low_v = *screen->low - more_v;
      setting.high_v = *screen->high + more_v;
    }
  setting.bandwidth_hz = reader.fields.quantity("bandwidth", quantity::frequency);
  if (!reader.ok()) return {.action = {}, .gives = {}, .sets_up = {{signal.name, setting.probe_factor}}};
  return {std::make_shared<SetUp>(signal, SignalSetUp{.channel = setting}), {}, {{signal.name, setting.probe_factor}}};
}

ReadStep meter(StepReader& reader, const SignalPlace& signal) {
  demand(reader, signal, "range", "5 V");
  bench::DcSetting setting;
  setting.range_v = reader.fields.quantity("range", quantity::voltage).value_or(0);
  setting.aperture_s = reader.fields.quantity("aperture", quantity::time).value_or(0);
  if (reader.fields.has("range") && !(setting.range_v > 0))
    reader.report("range", "a range of nothing cannot be", "write the largest voltage expected, such as `5 V`");
  if (reader.fields.has("aperture") && !(setting.aperture_s > 0 && setting.aperture_s <= 10))
    reader.report("aperture", "an aperture lies above 0 s and up to 10 s", "write a time such as `100 ms`");
  if (!reader.ok()) return {.action = {}, .gives = {}, .sets_up = {{signal.name, 0}}};
  return {std::make_shared<SetUp>(signal, SignalSetUp{.dc = setting}), {}, {{signal.name, 0}}};
}

ReadStep done(StepReader& reader, const SignalPlace& signal, const SignalSetUp& how) {
  if (!reader.ok()) return {.action = {}, .gives = {}, .sets_up = {{signal.name, 0}}};
  return {std::make_shared<SetUp>(signal, how), {}, {{signal.name, 0}}};
}

// Above zero; zero when it is missing or was reported.
double positive(StepReader& reader, std::string_view key, quantity::Dimension dimension) {
  const auto value = reader.fields.quantity(key, dimension);
  if (value && !(*value > 0))
    reader.report(key, fmt::format("a {} of nothing cannot be", key),
                  fmt::format("write more than zero, such as `{}`", quantity::example_of(dimension)));
  return value.value_or(0);
}

ReadStep counter(StepReader& reader, const SignalPlace& signal) {
  demand(reader, signal, "level", "0.5 V");
  demand(reader, signal, "gate", "100 ms");
  bench::FrequencySetting setting;
  setting.input = signal.channel;
  setting.coupling = reader.text("coupling") == "ac" ? bench::Coupling::ac : bench::Coupling::dc;
  setting.level_v = reader.fields.quantity("level", quantity::voltage).value_or(0);
  setting.gate_s = positive(reader, "gate", quantity::time);
  return done(reader, signal, {.frequency = setting});
}

ReadStep supply(StepReader& reader, const SignalPlace& signal) {
  demand(reader, signal, "voltage", "5 V");
  demand(reader, signal, "current at most", "100 mA");
  demand(reader, signal, "off above", "5.5 V");
  bench::OutputSetting setting;
  setting.voltage_v = positive(reader, "voltage", quantity::voltage);
  setting.current_limit_a = positive(reader, "current at most", quantity::current);
  setting.protection_v = positive(reader, "off above", quantity::voltage);
  if (reader.ok() && !(setting.protection_v > setting.voltage_v))
    reader.report("off above", "the output would switch itself off at the voltage that is asked for",
                  "write a little more than `voltage`");
  return done(reader, signal, {.output = setting});
}

ReadStep generator(StepReader& reader, const SignalPlace& signal) {
  demand(reader, signal, "shape", "square");
  demand(reader, signal, "frequency", "1 kHz");
  demand(reader, signal, "peak to peak", "1 V");
  bench::SignalSetting setting;
  const std::string shape = reader.text("shape").value_or("");
  setting.shape = shape == "square"     ? bench::Shape::square
                  : shape == "triangle" ? bench::Shape::triangle
                                        : bench::Shape::sine;
  setting.frequency_hz = positive(reader, "frequency", quantity::frequency);
  setting.peak_to_peak_v = positive(reader, "peak to peak", quantity::voltage);
  setting.offset_v = reader.fields.quantity("offset", quantity::voltage).value_or(0);
  return done(reader, signal, {.given = setting});
}

ReadStep read(StepReader& reader) {
  const SignalPlace* signal = reader.signal("set up");
  if (!signal) return {};
  refuse_others(reader, *signal);
  if (signal->kind == "multimeter") return meter(reader, *signal);
  if (signal->kind == "counter") return counter(reader, *signal);
  if (signal->kind == "power supply") return supply(reader, *signal);
  if (signal->kind == "function generator") return generator(reader, *signal);
  return scope(reader, *signal);
}

// The keys of counter, power supply and function generator.
void add_keys_of_others(std::vector<yaml::Key>& keys) {
  const auto add = [&](std::string name, quantity::Dimension dimension, std::string help, std::string example) {
    keys.push_back({.name = std::move(name),
                    .type = yaml::Type::quantity,
                    .dimension = dimension,
                    .help = std::move(help),
                    .example = std::move(example)});
  };
  add("level", quantity::voltage, "what an edge must cross (counter)", "0.5 V");
  add("gate", quantity::time, "how long it counts (counter)", "100 ms");
  add("voltage", quantity::voltage, "of the output (power supply)", "5 V");
  add("current at most", quantity::current, "the limit of the output (power supply)", "100 mA");
  add("off above", quantity::voltage, "the output switches itself off above it (power supply)", "5.5 V");
  keys.push_back({.name = "shape",
                  .type = yaml::Type::word,
                  .help = "sine, square or triangle (function generator)",
                  .example = "square",
                  .choices = {"sine", "square", "triangle"}});
  add("frequency", quantity::frequency, "of the output (function generator)", "1 kHz");
  add("peak to peak", quantity::voltage, "of the output with nothing on it (function generator)", "1 V");
  add("offset", quantity::voltage, "the middle of the output (function generator; usual: 0 V)", "0.5 V");
}

}  // namespace

void register_set_up(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration set{.name = "set up",
                             .about = "bring the instrument of a signal into a stated state, and read it back",
                             .parameters = {.name = "set up", .about = "the state of an instrument", .keys = {}},
                             .example =
                                 "- set up: rf\n  probe: x10\n  coupling: dc\n  screen: 0.6 V to 2.6 V at the probe "
                                 "tip\n  within: 5 s\n",
                             .sentence = "Set up <set up>"};
  set.parameters.keys = {
      {.name = "set up", .required = true, .type = Type::text, .help = "the signal", .example = "rf"},
      {.name = "probe",
       .type = Type::quantity,
       .dimension = quantity::ratio,
       .help = "factor of the probe (oscilloscope)",
       .example = "x10"},
      {.name = "coupling",
       .type = Type::word,
       .help = "dc or ac (oscilloscope, counter; usual for a counter: dc)",
       .example = "dc",
       .choices = {"dc", "ac"}},
      {.name = "screen",
       .type = Type::own,
       .help = "the voltages that must be visible (oscilloscope)",
       .example = "0.6 V to 2.6 V at the probe tip"},
      {.name = "bandwidth",
       .type = Type::quantity,
       .dimension = quantity::frequency,
       .help = "a bandwidth limit to switch on (oscilloscope)",
       .example = "20 MHz"},
      {.name = "range",
       .type = Type::quantity,
       .dimension = quantity::voltage,
       .help = "the largest voltage expected (multimeter)",
       .example = "5 V"},
      {.name = "aperture",
       .type = Type::quantity,
       .dimension = quantity::time,
       .help = "integration time of one reading (multimeter)",
       .example = "100 ms"}};
  add_keys_of_others(set.parameters.keys);
  set.parameters.keys.push_back(within_key(true));
  set.parameters.keys.push_back(otherwise_key());
  verbs.add(std::move(set), read);
}

}  // namespace eyelevel::sequence
