// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/measure/from_captures.hpp"

#include <fmt/format.h>

#include "core/metrology/combine.hpp"

namespace eyelevel::sequence {

std::vector<double> value_per_capture(const CaptureSet& set, std::string_view measure,
                                      const std::function<std::optional<double>(const disc::Analysis&)>& value) {
  std::vector<double> values;
  for (const KeptCapture& c : set.kept)
    if (const auto v = value(c.analysis)) values.push_back(*v);
  if (values.size() < 2)
    throw base::Error(base::ErrorCode::bad_answer,
                      fmt::format("{} of '{}' can be had from {} of {} captures, 2 are the least", measure, set.name,
                                  values.size(), set.kept.size()),
                      "keep more captures, or longer ones");
  return values;
}

metrology::Reading begin_reading(RunContext& context, const SignalPlace& signal, std::string measure, std::string unit,
                                 std::int64_t count) {
  metrology::Reading reading;
  reading.name = measure + " of " + signal.name;
  reading.measure = std::move(measure);
  reading.unit = std::move(unit);
  reading.of = signal.name;
  reading.count = count;
  reading.from_s = context.now_s();
  return reading;
}

metrology::Reading reading_from(RunContext& context, const CaptureSet& set, std::string measure, std::string unit) {
  metrology::Reading reading;
  reading.name = measure + " of " + set.name;
  reading.unit = std::move(unit);
  reading.count = std::ssize(set.kept);
  reading.tried = set.counts.tried;
  reading.measure = std::move(measure);
  reading.of = set.signal.name;
  reading.inputs = {set.name};
  reading.from_s = set.kept.front().from_s;
  reading.until_s = set.kept.back().until_s;
  reading.notes.push_back(set.counts.in_words());
  if (set.too_many_rejected) {
    reading.notes.push_back("too many captures were not kept: it cannot pass");
    context.cannot_pass(reading.name);
  }
  return reading;
}

void complete(metrology::Reading& reading, double value, const std::vector<metrology::Contribution>& budget) {
  reading.value = value;
  reading.contributions = metrology::merged(budget);
  reading.interval = metrology::combine(reading.contributions);
}

}  // namespace eyelevel::sequence
