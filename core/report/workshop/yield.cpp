// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/yield.hpp"

#include <chrono>
#include <map>

#include "core/record/journal/event_json.hpp"

namespace eyelevel::report::workshop {

using metrology::Judgement;
using metrology::population::share_range;

std::optional<double> Yield::share() const {
  if (judged() == 0) return std::nullopt;
  return static_cast<double>(passed) / static_cast<double>(judged());
}

std::optional<metrology::population::ShareRange> Yield::range() const {
  if (judged() == 0) return std::nullopt;
  return share_range(passed, judged());
}

std::string monday_of(const std::string& day) {
  using namespace std::chrono;
  const std::string begin = day + "T00:00:00.000Z";
  try {
    const auto at = floor<days>(record::utc_from_text(begin));
    const auto since = weekday(at) - Monday;
    return record::utc_text(base::UtcTime(at - since)).substr(0, day.size());
  } catch (const base::Error&) {
    return day;
  }
}

namespace {

void add(Yield& yield, const record::Tally& tally) {
  if (!tally.judgement)
    yield.not_judged += tally.runs;
  else if (*tally.judgement == Judgement::pass)
    yield.passed += tally.runs;
  else if (*tally.judgement == Judgement::fail)
    yield.failed += tally.runs;
  else
    yield.undecided += tally.runs;
}

template <class Name>
std::vector<Yield> grouped(std::span<const record::Tally> tallies, Name name) {
  std::map<std::string, Yield> groups;
  for (const record::Tally& tally : tallies) {
    Yield& one = groups[name(tally)];
    one.of = name(tally);
    add(one, tally);
  }
  std::vector<Yield> list;
  for (const auto& [of, yield] : groups) list.push_back(yield);
  return list;
}

}  // namespace

Yields yields_of(std::span<const record::Tally> tallies) {
  Yields yields;
  for (const record::Tally& tally : tallies) add(yields.all, tally);
  yields.model = grouped(tallies, [](const auto& t) { return t.model; });
  yields.bench = grouped(tallies, [](const auto& t) { return t.bench; });
  yields.who = grouped(tallies, [](const auto& t) { return t.operator_name; });
  // A year has few days: each is turned into its week once.
  std::map<std::string, std::string> weeks;
  yields.week = grouped(tallies, [&](const auto& t) {
    auto& week = weeks[t.day];
    if (week.empty()) week = monday_of(t.day);
    return week;
  });
  return yields;
}

std::vector<Apart> apart(const std::vector<Yield>& list) {
  std::int64_t passed = 0, judged = 0;
  for (const Yield& yield : list) passed += yield.passed, judged += yield.judged();
  std::vector<Apart> found;
  for (const Yield& yield : list) {
    const std::int64_t others = judged - yield.judged();
    if (yield.judged() == 0 || others == 0) continue;
    const double share = static_cast<double>(passed - yield.passed) / static_cast<double>(others);
    const auto range =
        share_range(yield.passed, yield.judged(), 1 - 0.05 / static_cast<double>(list.size()));  // Bonferroni
    if (share < range.low || share > range.high) found.push_back({&yield, share});
  }
  return found;
}

}  // namespace eyelevel::report::workshop
