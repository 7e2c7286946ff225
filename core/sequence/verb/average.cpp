// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/average.hpp"

#include <fmt/format.h>

#include "core/metrology/derived.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/signal/average.hpp"
#include "core/signal/converter_step.hpp"
#include "core/signal/histogram.hpp"

namespace eyelevel::sequence {

namespace {

class AverageOfReadings final : public Action {
 public:
  explicit AverageOfReadings(std::vector<std::string> names) : names_(std::move(names)) {}

  task<Result> run(RunContext& context, const Step&) const override {
    std::vector<metrology::Reading> readings;
    readings.reserve(names_.size());
    for (const std::string& name : names_) readings.push_back(context.reading(name));
    metrology::Reading result = metrology::mean_of(readings);
    result.name = fmt::format("average of {}", fmt::join(names_, ", "));
    for (const std::string& name : names_)
      if (!context.can_pass(name)) context.cannot_pass(result.name);
    co_return result;
  }

 private:
  std::vector<std::string> names_;
};

struct WaveformSetting {
  SignalPlace signal;
  double each_s = 0;
  long long count = 0;
  bench::Trigger trigger;
};

class AverageOfWaveforms final : public Action {
 public:
  explicit AverageOfWaveforms(WaveformSetting setting) : setting_(std::move(setting)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    AveragedWaveform average;
    average.name = step.name_it.empty() ? setting_.signal.name : step.name_it;
    average.signal = setting_.signal;
    signal::WaveformAverage mean;
    for (int i = 1; i <= setting_.count; ++i) {
      const Acquired got = co_await acquire(context, setting_.signal, setting_.each_s, setting_.trigger);
      mean.push(got.waveform->view());
      average.is_clipped = average.is_clipped || signal::clipped_share(got.waveform->view()) > 0;
      if (i == 1) average.from_s = got.from_s;
      average.until_s = got.until_s;
      average.step_v = signal::converter_step_v(got.waveform->view());
      context.tell_seen(event::Captured{step.place, average.name, setting_.signal.name, i, got.waveform, {}});
      context.progress() = fmt::format("{} of {} triggered acquisitions came", i, setting_.count);
    }
    average.count = setting_.count;
    average.mean = mean.result();
    average.noise_v = mean.noise_sd_v();
    co_return average;
  }
  double likely_s() const override { return static_cast<double>(setting_.count) * (setting_.each_s + quick_s); }
  std::string advice_when_late() const override { return "does the signal pass through the trigger level?"; }

 private:
  WaveformSetting setting_;
};

// Keys that belong to the other form.
void refuse(StepReader& reader, std::initializer_list<std::string_view> keys, std::string_view why) {
  for (const std::string_view key : keys)
    if (const yaml::Node* node = reader.fields.node(key))
      reader.report(*node, fmt::format("'{}' has no meaning here: {}", key, why), "leave it out");
}

ReadStep of_readings(StepReader& reader, const yaml::Node& node) {
  refuse(reader, {"each", "count", "trigger"}, "readings are averaged, nothing is acquired");
  std::vector<std::string> names;
  std::optional<quantity::Dimension> dimension;
  if (node.items.size() < 2)
    reader.report(node, "an average is made of two readings or more", "write `average: [ level_1, level_2 ]`");
  for (const yaml::Node& item : node.items) {
    const auto own = reader.reading(item, item.text);
    if (own && dimension && *own != *dimension)
      reader.report(item,
                    fmt::format("'{}' is {}, those before it are {}", item.text, quantity::with_article(*own),
                                quantity::with_article(*dimension)),
                    "average readings of one kind");
    if (own && !dimension) dimension = own;
    names.push_back(item.text);
  }
  if (!reader.ok() || !dimension) return {{}, Given{}, {}};
  return {std::make_shared<AverageOfReadings>(std::move(names)), Given{NameKind::reading, *dimension, 0}, {}};
}

ReadStep of_waveforms(StepReader& reader) {
  refuse(reader, {"must meet"}, "a waveform is not judged, measure it first");
  const SignalPlace* signal = reader.ready_signal("average", "oscilloscope");
  const Given given{NameKind::waveform, {}, 0, signal ? signal->name : std::string()};
  const auto demand = [&](std::string_view key, std::string_view example) -> const yaml::Node* {
    const yaml::Node* node = reader.fields.node(key);
    if (!node)
      reader.report(reader.node(), fmt::format("averaging a signal needs `{}`", key),
                    fmt::format("write `{}: {}`", key, example));
    return node;
  };
  const yaml::Node* each = demand("each", "500 us long");
  const yaml::Node* count = demand("count", "64");
  const yaml::Node* trigger = demand("trigger", "rising through 1.6 V");
  demand("within", "30 s");
  const auto each_s = each ? read_length_s(*each, reader.mistakes()) : std::nullopt;
  const auto number =
      count ? read_count(*count, {.before = {}, .after = {}, .least = 2}, reader.mistakes()) : std::nullopt;
  const auto edge = trigger ? read_trigger(*trigger, reader.mistakes()) : std::nullopt;
  if (!reader.ok() || !signal || !each_s || !number || !edge) return {{}, given, {}};
  return {std::make_shared<AverageOfWaveforms>(WaveformSetting{*signal, *each_s, *number, *edge}), given, {}};
}

ReadStep read(StepReader& reader) {
  const yaml::Node& node = *reader.fields.node("average");
  if (node.shape == yaml::Shape::list) return of_readings(reader, node);
  if (node.shape == yaml::Shape::text) return of_waveforms(reader);
  reader.report(node,
                fmt::format("`average` takes a list of readings or a signal, found {}", yaml::with_article(node.shape)),
                "write `average: [ level_1, level_2 ]` or `average: rf`");
  return {};
}

}  // namespace

void register_average(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration average{.name = "average",
                                 .about = "average readings of earlier steps, or the triggered waveforms of a signal",
                                 .parameters = {.name = "average", .about = "an average", .keys = {}},
                                 .example = "- average: [ level_1, level_2 ]\n  name it: level_mean\n",
                                 .sentence = "Average <average>"};
  average.parameters.keys = {
      {.name = "average",
       .required = true,
       .type = Type::own,
       .help = "a list of readings, or a signal",
       .example = "[ level_1, level_2 ]"},
      {.name = "each", .type = Type::own, .help = "length of one acquisition of the signal", .example = "500 us long"},
      {.name = "count", .type = Type::own, .help = "how many acquisitions of the signal", .example = "64"},
      {.name = "trigger",
       .type = Type::own,
       .help = "what starts an acquisition of the signal",
       .example = "rising through 1.6 V"},
      only_with_key(),
      within_key(false),
      name_it_key(),
      must_meet_key(),
      try_again_key(),
      otherwise_key()};
  verbs.add(std::move(average), read);
}

}  // namespace eyelevel::sequence
