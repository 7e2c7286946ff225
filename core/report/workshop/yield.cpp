// SPDX-License-Identifier: Apache-2.0
#include "core/report/workshop/yield.hpp"

#include <chrono>
#include <cmath>
#include <cstddef>
#include <map>
#include <tuple>

#include "core/metrology/population/two_shares.hpp"
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

void leave_out(std::vector<record::Tally>& tallies, std::span<const record::RunSummary> runs) {
  constexpr std::size_t day_length = 10;  // of a run's name, "2030-01-07-3"
  const auto key = [](const std::string& day, const auto& of) {
    return std::tuple(day, of.model, of.bench, of.operator_name, of.sequence, of.judgement);
  };
  std::map<decltype(key("", record::Tally{})), record::Tally*> places;
  for (record::Tally& tally : tallies) places[key(tally.day, tally)] = &tally;
  for (const record::RunSummary& run : runs) {
    const auto at = places.find(key(run.id.substr(0, day_length), run));
    if (!run.ended.empty() && run.proves.empty() && at != places.end()) --at->second->runs;
  }
  std::erase_if(tallies, [](const record::Tally& tally) { return tally.runs <= 0; });
}

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

namespace {

struct Distance {
  std::size_t at = 0;
  double others = 0;
  double z = 0;  // difference of the shares in its standard deviation, were both alike; 0: nobody stands apart
};

// Of all lists of a page, somebody is named by chance in one page of a hundred or so each.
constexpr double by_chance = 0.01;

// Of the one that is farthest apart from all others; of two, the one with the lower share.
Distance farthest_of(const std::vector<const Yield*>& list) {
  std::int64_t passed = 0, judged = 0;
  for (const Yield* yield : list) passed += yield->passed, judged += yield->judged();
  const double all = judged == 0 ? 0 : static_cast<double>(passed) / static_cast<double>(judged);
  Distance farthest;
  for (std::size_t i = 0; i < list.size(); ++i) {
    const Yield& one = *list[i];
    const std::int64_t left = judged - one.judged();
    if (one.judged() == 0 || left == 0) continue;
    const double others = static_cast<double>(passed - one.passed) / static_cast<double>(left);
    const double chance =
        metrology::population::chance_of_difference({one.passed, one.judged()}, {passed - one.passed, left});
    if (chance >= by_chance / static_cast<double>(list.size())) continue;  // Bonferroni
    const double z =
        std::abs(*one.share() - others) /
        std::sqrt(all * (1 - all) * (1 / static_cast<double>(one.judged()) + 1 / static_cast<double>(left)));
    constexpr double alike = 1e-9;
    if (z > farthest.z * (1 + alike) || (z > farthest.z * (1 - alike) && *one.share() < others))
      farthest = {i, others, z};
  }
  return farthest;
}

}  // namespace

std::vector<Apart> apart(const std::vector<Yield>& list) {
  std::vector<const Yield*> left;
  for (const Yield& yield : list) left.push_back(&yield);
  std::vector<Apart> found;
  while (left.size() >= 2 && found.size() < apart_most) {
    const Distance farthest = farthest_of(left);
    if (!(farthest.z > 0)) break;
    found.push_back({left[farthest.at], farthest.others});
    left.erase(left.begin() + static_cast<std::ptrdiff_t>(farthest.at));
  }
  return found;
}

}  // namespace eyelevel::report::workshop
