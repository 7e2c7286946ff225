// SPDX-License-Identifier: Apache-2.0
#include "core/report/compare.hpp"

#include <fmt/format.h>
#include <boost/json/array.hpp>
#include <boost/json/string.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include "core/metrology/derived.hpp"
#include "core/record/books/names.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/run_json.hpp"

namespace eyelevel::report {

namespace json = boost::json;
using metrology::Reading;
using record::RunRecord;

namespace {

using Told = std::map<std::string, std::string>;

Told settings_of(const RunRecord& run) {
  Told told;
  for (const event::Set& set : run.settings) {
    std::string& values = told[fmt::format("{} of {}", set.setting, set.role)];
    values += (values.empty() ? "" : ", then ") + set.read_back;
  }
  return told;
}

Told given_of(const RunRecord& run) {
  Told told;
  for (const event::GivenAtStart& given : run.begun.given) told[given.name] = given.value;
  for (const event::Answered& answer : run.answers)
    if (answer.name == "disc") told[answer.name] = answer.answer;
  return told;
}

const event::InstrumentUsed* instrument_of(const RunRecord& run, std::string_view role) {
  const auto found = std::find_if(run.instruments.begin(), run.instruments.end(),
                                  [&](const event::InstrumentUsed& used) { return used.role == role; });
  return found == run.instruments.end() ? nullptr : &*found;
}

Told instruments_of(const RunRecord& run) {
  Told told;
  for (const event::InstrumentUsed& used : run.instruments)
    told[used.role] = used.identity + (used.calibration_due.empty() ? "" : ", calibration due " + used.calibration_due);
  return told;
}

class Unlikes {
 public:
  void look(const std::string& what, const std::string& a, const std::string& b, bool forbids) {
    if (a != b) list.push_back({what, a, b, forbids});
  }
  void look(const std::string& before, const Told& a, const Told& b) {
    std::set<std::string> names;
    for (const auto& [name, value] : a) names.insert(name);
    for (const auto& [name, value] : b) names.insert(name);
    const auto value_of = [](const Told& told, const std::string& name) {
      const auto found = told.find(name);
      return found == told.end() ? std::string() : found->second;
    };
    for (const std::string& name : names) look(before + name, value_of(a, name), value_of(b, name), false);
  }

  std::vector<Unlike> list;
};

// As it holds now, where it was corrected.
std::string model_of(const RunRecord& run) {
  std::string model = run.summary.model;
  for (const record::Correction& correction : run.corrections)
    if (!correction.said.model.empty()) model = correction.said.model;
  return model;
}

std::vector<Unlike> unlike(const RunRecord& a, const RunRecord& b) {
  Unlikes found;
  found.look("model", model_of(a), model_of(b), true);
  found.look("sequence", a.summary.sequence, b.summary.sequence, true);
  const auto parts = [](const RunRecord& run) {
    std::string all = run.begun.source;
    for (const event::PartSource& part : run.begun.parts) all += part.source;
    return all;
  };
  if (a.summary.sequence == b.summary.sequence && parts(a) != parts(b))
    found.list.push_back({"text of the sequence", "as it was then", "changed since", false});
  found.look("", given_of(a), given_of(b));
  found.look("", settings_of(a), settings_of(b));
  found.look("instrument ", instruments_of(a), instruments_of(b));
  return std::move(found.list);
}

// ---- differences

bool is_same_instrument(const RunRecord& a, const RunRecord& b, std::string_view role) {
  const auto* in_a = instrument_of(a, role);
  const auto* in_b = instrument_of(b, role);
  return in_a != nullptr && in_b != nullptr && !in_a->identity.empty() && in_a->identity == in_b->identity &&
         in_a->calibration_due == in_b->calibration_due;
}

// "gain of scope channel 1" (core/sequence/measure/chain.cpp names them).
bool is_shared(const metrology::Contribution& line, const RunRecord& a, const RunRecord& b) {
  constexpr std::string_view gain = "gain of ", divider = "divider of the probe on ";
  const std::string_view source = line.source;
  const bool is_gain = source.starts_with(gain), is_divider = source.starts_with(divider);
  if (line.type != 'B' || (!is_gain && !is_divider)) return false;
  const auto of = source.substr(is_gain ? gain.size() : divider.size());
  const auto role = of.substr(0, of.find(' '));
  return is_same_instrument(a, b, role) && (is_gain || a.summary.bench == b.summary.bench);
}

// Errors that are not the other run's too get a name of their own. A reading without a budget has its uncertainty as
// one line.
Reading apart(Reading reading, const RunRecord& of, const RunRecord& other) {
  if (reading.contributions.empty() && reading.interval.standard_uncertainty > 0)
    reading.contributions.push_back({"uncertainty of " + reading.name, 'B', metrology::Shape::normal,
                                     reading.interval.standard_uncertainty, reading.interval.degrees_of_freedom});
  for (metrology::Contribution& line : reading.contributions)
    if (!line.source.empty() && !is_shared(line, of, other)) line.source += ", run " + of.summary.id;
  return reading;
}

const Reading* newest(const std::vector<Reading>& readings, const std::string& name) {
  const auto found = std::find_if(readings.rbegin(), readings.rend(), [&](const Reading& r) { return r.name == name; });
  return found == readings.rend() ? nullptr : &*found;
}

std::vector<ReadingPair> pairs_of(const RunRecord& a, const RunRecord& b) {
  const auto in_a = record::standing_readings(a), in_b = record::standing_readings(b);
  std::vector<std::string> names;
  for (const auto* list : {&in_a, &in_b})
    for (const Reading& reading : *list)
      if (std::find(names.begin(), names.end(), reading.name) == names.end()) names.push_back(reading.name);
  std::vector<ReadingPair> pairs;
  for (const std::string& name : names) {
    ReadingPair& pair = pairs.emplace_back();
    pair.name = name;
    if (const auto* reading = newest(in_a, name)) pair.a = *reading;
    if (const auto* reading = newest(in_b, name)) pair.b = *reading;
    if (!pair.a || !pair.b || pair.a->unit != pair.b->unit) continue;
    if (!std::isfinite(pair.a->value) || !std::isfinite(pair.b->value)) continue;
    pair.difference = metrology::difference_of(apart(*pair.b, b, a), apart(*pair.a, a, b));
  }
  return pairs;
}

}  // namespace

bool ReadingPair::is_beyond() const {
  return difference && std::abs(difference->value) > difference->interval.expanded_uncertainty;
}

bool Comparison::is_forbidden() const {
  return std::any_of(unlike.begin(), unlike.end(), [](const Unlike& one) { return one.forbids; });
}

Comparison compare(const RunRecord& a, const RunRecord& b) {
  return {a.summary, b.summary, unlike(a, b), pairs_of(a, b)};
}

std::string unlike_text(const Unlike& one) {
  const auto side = [](const std::string& text) {
    return text.empty() ? std::string("nothing") : record::shown(text, 80);
  };
  return fmt::format("{}: {} | {}", record::shown(one.what), side(one.a), side(one.b));
}

json::object comparison_json(const Comparison& comparison) {
  const auto text = [](const std::string& t) { return json::string(record::clean_utf8(t)); };
  const auto or_null = [&](const std::optional<Reading>& reading) {
    return reading ? json::value(reading_json(*reading)) : json::value(nullptr);
  };
  json::array unlike, readings;
  for (const Unlike& one : comparison.unlike)
    unlike.push_back(
        json::object{{"what", text(one.what)}, {"a", text(one.a)}, {"b", text(one.b)}, {"forbids", one.forbids}});
  for (const ReadingPair& pair : comparison.pairs) {
    const Reading& either = pair.a ? *pair.a : *pair.b;
    readings.push_back(json::object{{"name", text(pair.name)},
                                    {"unit", text(either.unit)},
                                    {"a", or_null(pair.a)},
                                    {"b", or_null(pair.b)},
                                    {"difference", or_null(pair.difference)},
                                    {"beyond_uncertainty", pair.difference ? json::value(pair.is_beyond()) : nullptr}});
  }
  return {{"a", summary_json(comparison.a)},
          {"b", summary_json(comparison.b)},
          {"unlike", std::move(unlike)},
          {"readings", std::move(readings)}};
}

}  // namespace eyelevel::report
