// SPDX-License-Identifier: Apache-2.0
#include "core/report/build_reference.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>

#include "core/base/error.hpp"
#include "core/record/books/names.hpp"
#include "core/report/compare.hpp"

namespace eyelevel::report {

namespace {

namespace population = metrology::population;
using base::Error;
using base::ErrorCode;
using record::shown;

[[noreturn]] void refuse(const std::string& message, const std::string& advice) {
  throw Error(ErrorCode::bad_input, message + "; nothing was written", advice);
}

// Serial and model as they hold now.
std::pair<std::string, std::string> unit_of(const record::RunRecord& run) {
  std::pair<std::string, std::string> unit{run.summary.serial, run.summary.model};
  for (const record::Correction& correction : run.corrections) {
    if (!correction.said.serial.empty()) unit.first = correction.said.serial;
    if (!correction.said.model.empty()) unit.second = correction.said.model;
  }
  return unit;
}

metrology::Reading reading_of(const record::RunRecord& run, const std::string& name) {
  const auto readings = record::standing_readings(run);
  const auto found = std::find_if(readings.rbegin(), readings.rend(), [&](const auto& r) { return r.name == name; });
  if (found == readings.rend())
    refuse(fmt::format("run {} has no reading {} that counts", run.summary.id, shown(name)), "leave this run out");
  if (found->unit.empty())
    refuse(fmt::format("run {}: {} has no unit of measure", run.summary.id, shown(name)), "leave this run out");
  return *found;
}

// The values of one unit, which count once.
struct Values {
  record::ReferenceUnit unit;
  std::vector<double> values;
};

class Builder {
 public:
  explicit Builder(const ReferenceWish& wish) : wish_(wish) {}

  void take(const record::RunRecord& run, const record::RunRecord& first) {
    const auto [serial, model] = unit_of(run);
    if (wish_.without.contains(serial)) return;
    if (serial.empty())
      refuse(fmt::format("run {} has no serial: whose reading is it?", run.summary.id),
             "say it with `eyelevel records correct`, or leave this run out");
    if (model != wish_.model)
      refuse(fmt::format("run {} is of the model {}, not {}", run.summary.id, shown(model), shown(wish_.model)),
             "leave this run out");
    warn_of_unlike(run, first);
    const auto reading = reading_of(run, wish_.reading);
    if (!built_.set.unit.empty() && built_.set.unit != reading.unit)
      refuse(fmt::format("run {}: {} is in {}, in the runs before in {}", run.summary.id, shown(wish_.reading),
                         reading.unit, built_.set.unit),
             "leave one kind out");
    built_.set.unit = reading.unit;
    auto known = std::find_if(units_.begin(), units_.end(), [&](const Values& v) { return v.unit.serial == serial; });
    if (known == units_.end()) known = units_.insert(units_.end(), Values{{serial, 0, {}}, {}});
    known->unit.runs.push_back(run.summary.id);
    known->values.push_back(reading.value);
  }

  BuiltReference finish() {
    std::vector<population::GoodUnit> good;
    for (Values& one : units_) {
      one.unit.value =
          std::accumulate(one.values.begin(), one.values.end(), 0.0) / static_cast<double>(one.values.size());
      good.push_back({one.unit.serial, one.unit.value});
      built_.set.units.push_back(one.unit);
    }
    const auto found = population::reference_from_units(good, wish_.options);
    if (!found.limit)
      refuse(fmt::format("one unit, {}, gives no limits: nothing is known of the spread", shown(good.front().name)),
             "measure more known good units, five or more, or set limits from service data");
    built_.warnings.insert(built_.warnings.begin(), found.warnings.begin(), found.warnings.end());
    built_.set.limit = *found.limit;
    built_.set.mean = found.mean;
    built_.set.sd = found.sd;
    built_.set.factor = found.factor;
    built_.set.share = wish_.options.stated.share;
    built_.set.confidence = wish_.options.stated.confidence;
    built_.set.source = "units";
    built_.set.disc = wish_.disc;
    for (const auto& doubt : found.doubtful) built_.set.doubtful.push_back(doubt.unit.name);
    return std::move(built_);
  }

 private:
  void warn_of_unlike(const record::RunRecord& run, const record::RunRecord& first) {
    for (const Unlike& one : compare(first, run).unlike) {
      if (one.forbids)
        refuse(fmt::format("runs {} and {} do not measure the same: {}", first.summary.id, run.summary.id,
                           unlike_text(one)),
               "leave one of them out");
      if (!one.what.starts_with("instrument "))
        built_.warnings.push_back(
            fmt::format("runs {} and {} differ in {}", first.summary.id, run.summary.id, unlike_text(one)));
    }
  }

  const ReferenceWish& wish_;
  BuiltReference built_;
  std::vector<Values> units_;
};

}  // namespace

BuiltReference build_reference(std::span<const record::RunRecord> runs, const ReferenceWish& wish) {
  if (runs.empty()) refuse("there is no run to build a reference from", "measure some known good units first");
  Builder builder(wish);
  for (const record::RunRecord& run : runs) builder.take(run, runs.front());
  auto built = builder.finish();
  built.set.setting = runs.front().summary.sequence;
  return built;
}

}  // namespace eyelevel::report
