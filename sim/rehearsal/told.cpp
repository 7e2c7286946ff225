// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/told.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace eyelevel::sim {
namespace {

using metrology::Judgement;
using metrology::Reading;

bool is_low(const Reading& reading) {
  const auto& limit = *reading.limit;
  if (!limit.at_least || !limit.at_most) return limit.at_least.has_value();
  return reading.value < (*limit.at_least + *limit.at_most) / 2;
}

std::string not_passed(const Reading& reading) {
  const bool low = is_low(reading);
  const char* where = reading.judgement == Judgement::fail ? low ? "below its limit" : "above its limit"
                      : low                                ? "too near to its lower limit"
                                                           : "too near to its upper limit";
  return fmt::format("{} ({}) is {}", reading.name, reading.measure, where);
}

}  // namespace

void Told::told(const event::Event& event) {
  if (const auto* broken = std::get_if<event::BrokenOff>(&event.body)) texts_.push_back(base::describe(broken->error));
  if (const auto* noted = std::get_if<event::Noted>(&event.body)) texts_.push_back(noted->text);
  if (const auto* found = std::get_if<event::Found>(&event.body))
    texts_.push_back(fmt::format("{}: {}", found->cause, found->because));
  if (const auto* seen = std::get_if<event::Seen>(&event.body)) texts_.push_back(seen->what);
  if (const auto* answered = std::get_if<event::Answered>(&event.body)) texts_.push_back(answered->answer);
  if (const auto* diagnosed = std::get_if<event::Diagnosed>(&event.body))
    for (const event::Finding& f : diagnosed->findings) texts_.push_back(f.cause + ": " + f.because);
  if (const auto* proved = std::get_if<event::Proved>(&event.body))
    if (proved->judgement && *proved->judgement != Judgement::pass)
      texts_.push_back(fmt::format("{} of {}: {}", proved->item, proved->of, proved->found));
}

std::vector<std::string> Told::all(const sequence::RunResult& result) const {
  std::vector<std::string> texts = texts_;
  for (const Reading& reading : result.readings)
    if (reading.limit && reading.judgement && *reading.judgement != Judgement::pass)
      texts.push_back(not_passed(reading));
  if (result.error) texts.push_back(base::describe(*result.error));
  return texts;
}

bool is_told(const std::vector<std::string>& texts, const std::vector<std::string>& words) {
  return std::any_of(words.begin(), words.end(), [&](const std::string& word) {
    return std::any_of(texts.begin(), texts.end(),
                       [&](const std::string& text) { return text.find(word) != std::string::npos; });
  });
}

}  // namespace eyelevel::sim
