// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/set_up.hpp"

#include <fmt/format.h>

#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

class SetUp final : public Action {
 public:
  SetUp(SignalPlace signal, const SignalSetUp& setting) : signal_(std::move(signal)), setting_(setting) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.progress() = signal_.role + " has not confirmed its settings";
    std::vector<bench::SettingTaken> taken;
    if (setting_.channel) {
      auto& scope = context.oscilloscope(signal_.role);
      taken = co_await scope.set_up(signal_.channel, *setting_.channel, context.call_limit());
    } else {
      auto& meter = context.multimeter(signal_.role);
      taken = co_await meter.set_up_dc(*setting_.dc, context.call_limit());
    }
    for (const bench::SettingTaken& t : taken)
      context.tell(event::Set{step.place, signal_.role, t.setting, t.asked, t.read_back});
    context.is_set_up(signal_.name, as_taken(taken));
    co_return std::monostate{};
  }
  void check_on_bench(const Step& step, const bench::BenchFile& bench, yaml::Mistakes& mistakes) const override {
    const bench::InstrumentEntry* entry = bench.find(signal_.role);
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

constexpr std::string_view of_scope[] = {"probe", "coupling", "screen", "bandwidth"};
constexpr std::string_view of_meter[] = {"range", "aperture"};

std::string_view in_words(const SignalPlace& signal) {
  return signal.kind == "multimeter" ? "a multimeter" : "an oscilloscope";
}

// Keys that the other kind of instrument has.
void refuse(StepReader& reader, const SignalPlace& signal, std::span<const std::string_view> keys,
            std::string_view instead) {
  for (const std::string_view key : keys) {
    const yaml::Node* node = reader.fields.node(key);
    if (node)
      reader.report(*node, fmt::format("'{}' is measured by {}, which has no {}", signal.name, in_words(signal), key),
                    fmt::format("leave it out; {} takes {}", in_words(signal), instead));
  }
}

void demand(StepReader& reader, const SignalPlace& signal, std::string_view key, std::string_view example) {
  if (!reader.fields.has(key))
    reader.report(reader.node(), fmt::format("set up of '{}' does not say its {}", signal.name, key),
                  fmt::format("write `{}: {}`", key, example));
}

ReadStep scope(StepReader& reader, const SignalPlace& signal) {
  refuse(reader, signal, of_meter, "probe, coupling, screen and bandwidth");
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
  return {std::make_shared<SetUp>(signal, SignalSetUp{setting, {}}), {}, {{signal.name, setting.probe_factor}}};
}

ReadStep meter(StepReader& reader, const SignalPlace& signal) {
  refuse(reader, signal, of_scope, "range and aperture");
  demand(reader, signal, "range", "5 V");
  bench::DcSetting setting;
  setting.range_v = reader.fields.quantity("range", quantity::voltage).value_or(0);
  setting.aperture_s = reader.fields.quantity("aperture", quantity::time).value_or(0);
  if (reader.fields.has("range") && !(setting.range_v > 0))
    reader.report("range", "a range of nothing cannot be", "write the largest voltage expected, such as `5 V`");
  if (reader.fields.has("aperture") && !(setting.aperture_s > 0 && setting.aperture_s <= 10))
    reader.report("aperture", "an aperture lies above 0 s and up to 10 s", "write a time such as `100 ms`");
  if (!reader.ok()) return {.action = {}, .gives = {}, .sets_up = {{signal.name, 0}}};
  return {std::make_shared<SetUp>(signal, SignalSetUp{{}, setting}), {}, {{signal.name, 0}}};
}

ReadStep read(StepReader& reader) {
  const SignalPlace* signal = reader.signal("set up");
  if (!signal) return {};
  return signal->kind == "multimeter" ? meter(reader, *signal) : scope(reader, *signal);
}

}  // namespace

void register_set_up(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration set{.name = "set up",
                             .about = "bring the instrument of a signal into a stated state, and read it back",
                             .parameters = {.name = "set up", .about = "the state of an instrument", .keys = {}},
                             .example =
                                 "- set up: rf\n  probe: x10\n  coupling: dc\n  screen: 0.6 V to 2.6 V at the probe "
                                 "tip\n  within: 5 s\n"};
  set.parameters.keys = {
      {.name = "set up", .required = true, .type = Type::text, .help = "the signal", .example = "rf"},
      {.name = "probe",
       .type = Type::quantity,
       .dimension = quantity::ratio,
       .help = "factor of the probe (oscilloscope)",
       .example = "x10"},
      {.name = "coupling",
       .type = Type::word,
       .help = "dc or ac (oscilloscope)",
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
       .example = "100 ms"},
      within_key(true),
      otherwise_key()};
  verbs.add(std::move(set), read);
}

}  // namespace eyelevel::sequence
