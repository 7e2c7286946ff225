// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/outside/results.hpp"

#include <fmt/format.h>

#include "core/sequence/runner/context.hpp"

namespace eyelevel::sequence {

namespace {

registers::OutsideWaveform waveform_of(const AveragedWaveform& average) {
  const std::size_t size = average.mean.size();
  if (size > registers::outside_samples_most)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("'{}' has {} samples; at most {} are handed to a plugin", average.name, size,
                                  registers::outside_samples_most),
                      "average a shorter record");
  const auto view = average.mean.view();
  registers::OutsideWaveform given{
      .rate_hz = view.rate_hz, .volts = {}, .noise_v = average.noise_v, .count = average.count};
  given.volts.reserve(size);
  for (std::size_t i = 0; i < size; ++i) given.volts.push_back(static_cast<float>(view.volts(i)));
  return given;
}

registers::OutsideCaptures captures_of(const CaptureSet& set) {
  registers::OutsideCaptures all;
  all.reserve(set.kept.size());
  for (const KeptCapture& kept : set.kept) {
    const disc::Analysis& a = kept.analysis;
    all.push_back({.from_s = kept.from_s,
                   .level_v = a.level.peak_to_peak_v,
                   .i3_v = a.level.i3_v,
                   .top_v = a.level.top_v,
                   .bottom_v = a.level.bottom_v,
                   .mean_v = a.level.mean_v,
                   .i3_over_i11 = a.i3_over_i11,
                   .asymmetry = a.asymmetry});
  }
  return all;
}

[[noreturn]] void refuse(const registers::OutsidePart& part, std::string what) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_answer;
  record.where =
      fmt::format("{} '{}' of {}", registers::name_of(part.kind), part.declaration.name, part.declaration.from);
  record.message = std::move(what);
  record.advice = "tell whoever wrote the plugin; `eyelevel plugins --try FOLDER` shows it, too";
  throw base::Error(std::move(record));
}

}  // namespace

NameKind name_kind_of(registers::ResultKind kind) {
  switch (kind) {
    case registers::ResultKind::reading: return NameKind::reading;
    case registers::ResultKind::waveform: return NameKind::waveform;
    case registers::ResultKind::captures: return NameKind::captures;
  }
  return NameKind::unknown;
}

registers::OutsideResult result_for_outside(RunContext& context, const std::string& name, registers::ResultKind kind) {
  if (kind == registers::ResultKind::captures) return captures_of(context.captures(name));
  if (kind == registers::ResultKind::waveform) return waveform_of(context.waveform(name));
  const metrology::Reading& reading = context.reading(name);
  return registers::OutsideReading{.value = reading.value,
                                   .unit = reading.unit,
                                   .standard_uncertainty = reading.interval.standard_uncertainty,
                                   .degrees_of_freedom = reading.interval.degrees_of_freedom,
                                   .count = reading.count};
}

metrology::Reading reading_of(const registers::OutsidePart& part, const registers::Answer& answer, std::string name) {
  if (!answer.reading) refuse(part, "the answer holds no reading");
  const registers::OutsideReading& given = *answer.reading;
  if (auto why = registers::why_impossible(given, registers::outside_unit(*part.gives)); !why.empty())
    refuse(part, std::move(why));
  metrology::Reading reading;
  reading.name = std::move(name);
  reading.value = given.value;
  reading.unit = given.unit;
  reading.measure = part.declaration.name;
  reading.count = given.count;
  reading.notes = answer.notes;
  if (given.standard_uncertainty > 0)
    reading.contributions.push_back({.source = fmt::format("{} by {}", reading.name, part.declaration.from),
                                     .type = 'B',
                                     .shape = metrology::Shape::normal,
                                     .effect = given.standard_uncertainty,
                                     .degrees_of_freedom = given.degrees_of_freedom});
  else
    reading.notes.push_back(part.declaration.from + " states no uncertainty: it is taken as exact");
  reading.interval = metrology::combine(reading.contributions);
  return reading;
}

}  // namespace eyelevel::sequence
