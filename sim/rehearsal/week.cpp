// SPDX-License-Identifier: Apache-2.0
#include "sim/rehearsal/week.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <memory>
#include <numeric>
#include <tuple>

#include "core/base/random.hpp"
#include "core/quantity/dimension.hpp"
#include "core/yaml/fields.hpp"

namespace eyelevel::sim {
namespace {

using std::chrono::minutes;
using yaml::Key;
using yaml::KeyTable;
using yaml::Type;

constexpr long long units_most = 2000, days_most = 366, checks_most = 20;
constexpr long long seed_most = 1LL << 53U;  // what a JSON number holds exactly
constexpr auto opens = std::chrono::hours(7), works = std::chrono::hours(9);

KeyTable bench_table() {
  return {"a bench",
          "where units are measured",
          {{.name = "name", .required = true, .type = Type::text, .help = "of the bench", .example = "bench 2"},
           {.name = "reads more each day",
            .type = Type::quantity,
            .dimension = quantity::ratio,
            .help = "by how much its probe changes in a day",
            .example = "-1 %"},
           {.name = "from day", .type = Type::count, .help = "when that begins (usual: 1)", .example = "3"}}};
}

KeyTable person_table() {
  return {"a person",
          "who measures",
          {{.name = "name", .required = true, .type = Type::text, .help = "as in the record", .example = "anna"},
           {.name = "habits",
            .type = Type::texts,
            .help = "what this person does wrong; eyelevel rehearse --list-troubles",
            .example = "[ wrong disc ]"},
           {.name = "how often",
            .type = Type::quantity,
            .dimension = quantity::ratio,
            .help = "the share of units with which it happens",
            .example = "50 %"}}};
}

KeyTable units_table() {
  return {"units",
          "units that have something in common",
          {{.name = "count", .required = true, .type = Type::count, .help = "how many", .example = "34"},
           {.name = "lot", .type = Type::text, .help = "lot number on their pickups", .example = "29-38"},
           {.name = "troubles",
            .type = Type::texts,
            .help = "what is wrong with them; eyelevel rehearse --list-troubles",
            .example = "[ laser worn out ]"}}};
}

Key group_list(std::string name, std::string help, std::string example, KeyTable inside) {
  return {.name = std::move(name),
          .required = true,
          .type = Type::groups,
          .help = std::move(help),
          .example = std::move(example),
          .inside = std::make_shared<const KeyTable>(std::move(inside))};
}

void check_troubles(const yaml::Node& group, std::string_view key, const Troubles& troubles, yaml::Mistakes& mistakes) {
  const yaml::Node* names = group.find(key);
  if (names == nullptr) return;
  for (const yaml::Node& name : names->items)
    if (troubles.find(name.text) == nullptr) mistakes.add(name.mark, troubles.unknown(name.text));
}

long long count_of(const yaml::Node& group, std::string_view key, long long usual, long long least, long long most,
                   yaml::Mistakes& mistakes) {
  const long long count = yaml::Fields(group).count(key).value_or(usual);
  if (count < least || count > most)
    mistakes.add(group.find(key)->mark, fmt::format("'{}' may be {} to {}", key, least, most),
                 "write a number within these");
  return std::clamp(count, least, most);
}

double share_of(const yaml::Node& group, std::string_view key, double least, double most, yaml::Mistakes& mistakes) {
  const double share = yaml::Fields(group).quantity(key, quantity::ratio).value_or(0);
  if (share < least || share > most)
    mistakes.add(group.find(key)->mark, fmt::format("'{}' may be {:g} % to {:g} %", key, 100 * least, 100 * most),
                 "write a share within these");
  return share;
}

WeekBench bench_of(const yaml::Node& node, int days, yaml::Mistakes& mistakes) {
  return {yaml::Fields(node).text("name").value_or(""), share_of(node, "reads more each day", -0.2, 0.2, mistakes),
          static_cast<int>(count_of(node, "from day", 1, 1, days, mistakes))};
}

WeekPerson person_of(const yaml::Node& node, const Troubles& troubles, yaml::Mistakes& mistakes) {
  const yaml::Fields fields(node);
  check_troubles(node, "habits", troubles, mistakes);
  WeekPerson person{fields.text("name").value_or(""), fields.texts("habits"),
                    share_of(node, "how often", 0, 1, mistakes)};
  if (person.habits.empty() != (person.habit_rate == 0))
    mistakes.add(node.mark, fmt::format("'{}' has `habits` without `how often`, or the other way round", person.name),
                 "write both, or neither");
  return person;
}

WeekUnits units_of(const yaml::Node& node, const Troubles& troubles, yaml::Mistakes& mistakes) {
  const yaml::Fields fields(node);
  check_troubles(node, "troubles", troubles, mistakes);
  return {static_cast<int>(count_of(node, "count", 1, 1, units_most, mistakes)), fields.text("lot").value_or(""),
          fields.texts("troubles")};
}

template <class List>
void check_names(const yaml::Node& nodes, const List& list, yaml::Mistakes& mistakes) {
  for (std::size_t i = 0; i < list.size(); ++i)
    for (std::size_t before = 0; before < i; ++before)
      if (list[i].name == list[before].name)
        mistakes.add(nodes.items[i].mark, fmt::format("the name '{}' stands here a second time", list[i].name),
                     "give each a name of its own");
}

base::UtcTime day_of(const std::string& text) {
  int year = 0;
  unsigned month = 0, day = 0;
  std::sscanf(text.c_str(), "%d-%u-%u", &year, &month, &day);  // its form was checked with the table
  using namespace std::chrono;
  return sys_days(std::chrono::year(year) / std::chrono::month(month) / std::chrono::day(day));
}

void read_groups(const yaml::Node& root, const Troubles& troubles, Week& week, yaml::Mistakes& mistakes) {
  const auto each = [&](std::string_view key, auto& list, const auto& read) {
    const yaml::Node& nodes = *root.find(key);
    for (const yaml::Node& node : nodes.items) list.push_back(read(node));
    if (list.empty()) mistakes.add(nodes.mark, fmt::format("'{}' is empty", key), "write at least one");
  };
  each("benches", week.benches, [&](const yaml::Node& node) { return bench_of(node, week.days, mistakes); });
  each("people", week.people, [&](const yaml::Node& node) { return person_of(node, troubles, mistakes); });
  each("units", week.units, [&](const yaml::Node& node) { return units_of(node, troubles, mistakes); });
  check_names(*root.find("benches"), week.benches, mistakes);
  check_names(*root.find("people"), week.people, mistakes);
}

// Numbers of all units in an order of chance, so that no kind of them comes on one day or to one bench.
std::vector<int> shuffled(int count, base::Random random) {
  std::vector<int> numbers(static_cast<std::size_t>(count));
  std::iota(numbers.begin(), numbers.end(), 1);
  for (std::size_t left = numbers.size(); left > 1; --left) std::swap(numbers[left - 1], numbers[random.below(left)]);
  return numbers;
}

const WeekUnits& kind_of(const Week& week, int number) {
  for (const WeekUnits& units : week.units) {
    if (number <= units.count) return units;
    number -= units.count;
  }
  return week.units.back();
}

struct Place {
  int day = 0;  // from 0
  std::size_t bench = 0;
};

WeekVisit visit_at(const Week& week, Place place, base::UtcTime begun) {
  const WeekBench& bench = week.benches[place.bench];
  WeekVisit visit;
  visit.begun = begun;
  visit.bench = place.bench;
  visit.probe_drift = bench.drift_a_day * std::max(0, place.day + 2 - bench.drifts_from_day);
  visit.by = week.people[(place.bench + static_cast<std::size_t>(place.day)) % week.people.size()].name;
  return visit;
}

// The units of one bench and day, spread over its hours, after the first check.
void add_day(const Week& week, Place place, const std::vector<int>& numbers, std::vector<WeekVisit>& all) {
  const base::UtcTime morning = week.first_day + std::chrono::days(place.day) + opens;
  for (int check = 0; check < week.checks_a_day; ++check)
    all.push_back(visit_at(week, place, morning + check * minutes(works) / week.checks_a_day));
  const base::Random random = base::Random(week.seed, "week");
  int turn = 0;
  for (const int number : numbers) {
    const auto length = minutes(works) / static_cast<int>(numbers.size());
    WeekVisit visit = visit_at(week, place, morning + minutes(12) + turn++ * length);
    const WeekUnits& kind = kind_of(week, number);
    base::Random own = random.stream(fmt::format("unit {}", number));
    visit.unit = number;
    visit.lot = kind.lot;
    visit.hours = std::floor(own.log_normal_5_95(100, 4000));
    visit.troubles = kind.troubles;
    const WeekPerson& person = *std::find_if(week.people.begin(), week.people.end(),
                                             [&](const WeekPerson& one) { return one.name == visit.by; });
    if (own.chance(person.habit_rate))
      visit.troubles.insert(visit.troubles.end(), person.habits.begin(), person.habits.end());
    all.push_back(std::move(visit));
  }
}

}  // namespace

std::string Week::path_of(const std::string& named) const {
  return named.empty() ? named : (std::filesystem::path(file).parent_path() / named).lexically_normal().string();
}

KeyTable week_table() {
  return {
      "a week",
      "days of a workshop that are played through",
      {{.name = "week", .required = true, .type = Type::text, .help = "what it is", .example = "A week in May"},
       {.name = "seed", .required = true, .type = Type::count, .help = "as in --seed", .example = "7"},
       {.name = "sequence",
        .required = true,
        .type = Type::text,
        .help = "the file, from the folder of this one",
        .example = "../../sequences/ready/pickup-level.yaml"},
       {.name = "model", .type = Type::text, .help = "model sheet; usual: the invented LF-2", .example = "lf-2.yaml"},
       {.name = "bench", .type = Type::text, .help = "bench file with the accuracies", .example = "bench.yaml"},
       {.name = "first day", .required = true, .type = Type::date, .help = "its date", .example = "2030-05-13"},
       {.name = "days", .required = true, .type = Type::count, .help = "how many", .example = "5"},
       group_list("benches", "where units are measured", "[ { name: bench 1 } ]", bench_table()),
       group_list("people", "who measures", "[ { name: anna } ]", person_table()),
       group_list("units", "what comes in", "[ { count: 40 } ]", units_table()),
       {.name = "pickup part", .type = Type::text, .help = "part number of the pickups", .example = "LF-P2"},
       {.name = "check unit",
        .type = Type::text,
        .help = "serial of the unit that every bench measures",
        .example = "LF2-CHECK"},
       {.name = "checks a day", .type = Type::count, .help = "of it, by each bench (usual: 2)", .example = "2"}}};
}

bool is_week(const yaml::Node& root) { return !root.entries.empty() && root.entries.front().key == "week"; }

WeekRead read_week(yaml::Document document, const Troubles& troubles) {
  WeekRead result{{}, std::move(document.mistakes)};
  Week& week = result.week;
  week.file = document.file;
  const yaml::Node& root = document.root;
  if (root.shape == yaml::Shape::nothing || !yaml::check(root, week_table(), result.mistakes)) return result;
  const yaml::Fields fields(root);
  week.about = fields.text("week").value_or("");
  week.seed = static_cast<std::uint64_t>(count_of(root, "seed", 1, 0, seed_most, result.mistakes));
  week.sequence = fields.text("sequence").value_or("");
  week.model = fields.text("model").value_or("");
  week.bench = fields.text("bench").value_or("");
  week.first_day = day_of(fields.text("first day").value_or(""));
  week.days = static_cast<int>(count_of(root, "days", 1, 1, days_most, result.mistakes));
  week.pickup_part = fields.text("pickup part").value_or("");
  week.check_unit = fields.text("check unit").value_or("");
  if (!week.check_unit.empty())
    week.checks_a_day = static_cast<int>(count_of(root, "checks a day", 2, 1, checks_most, result.mistakes));
  else if (fields.has("checks a day"))
    result.mistakes.add(fields.node("checks a day")->mark, "there is no unit to check the benches with",
                        "name it with `check unit`");
  read_groups(root, troubles, week, result.mistakes);
  return result;
}

std::vector<WeekVisit> visits_of(const Week& week) {
  const int units = std::accumulate(week.units.begin(), week.units.end(), 0,
                                    [](int sum, const WeekUnits& kind) { return sum + kind.count; });
  const std::vector<int> order = shuffled(units, base::Random(week.seed, "order of units"));
  const std::size_t places = static_cast<std::size_t>(week.days) * week.benches.size();
  std::vector<WeekVisit> all;
  for (std::size_t at = 0; at < places; ++at) {
    std::vector<int> numbers;
    for (std::size_t i = at; i < order.size(); i += places) numbers.push_back(order[i]);
    add_day(week, {static_cast<int>(at / week.benches.size()), at % week.benches.size()}, numbers, all);
  }
  std::sort(all.begin(), all.end(), [](const auto& a, const auto& b) {
    return std::tie(a.begun, a.bench, a.unit) < std::tie(b.begun, b.bench, b.unit);
  });
  return all;
}

}  // namespace eyelevel::sim
