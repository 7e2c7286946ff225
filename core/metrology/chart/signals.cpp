// SPDX-License-Identifier: Apache-2.0
#include "core/metrology/chart/signals.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/error.hpp"

namespace eyelevel::metrology::chart {

namespace {

constexpr std::size_t rising = 6, alternating_points = 14, within = 15, both_sides = 8;

void require_usable(std::span<const double> points, double centre, double sigma, const Rules& rules) {
  const bool is_usable = std::isfinite(centre) && sigma > 0 && std::isfinite(sigma) && rules.run >= 2;
  const auto bad = std::find_if_not(points.begin(), points.end(), [](double v) { return std::isfinite(v); });
  if (is_usable && bad == points.end()) return;
  throw base::Error(base::ErrorCode::bad_input,
                    is_usable ? fmt::format("point {} of the chart is {}, not a number", bad - points.begin(), *bad)
                              : fmt::format("a chart about {} with sigma {} and runs of {}: expected numbers, sigma "
                                            "above 0 and runs of 2 or more",
                                            centre, sigma, rules.run));
}

// Looks back from one point, in sigma from the centre.
class Back {
 public:
  Back(std::span<const double> z, std::size_t last) : z_(z), last_(last) {}

  bool has(std::size_t count) const { return last_ + 1 >= count; }
  double now() const { return z_[last_]; }

  template <typename Is>
  std::size_t count_of(std::size_t among, Is is) const {
    const auto window = z_.subspan(last_ + 1 - among, among);
    return static_cast<std::size_t>(std::count_if(window.begin(), window.end(), is));
  }
  template <typename Is>
  bool all(std::size_t of, Is is) const {
    return has(of) && count_of(of, is) == of;
  }
  // `needed` of the last `among` points beyond `far` on this side, this point one of them. At the chart's begin, where
  // there are fewer than `among`, those that are there.
  bool most_beyond(std::size_t needed, std::size_t among, double far, int side) const {
    const auto is_beyond = [&](double z) { return side * z > far; };
    return is_beyond(now()) && count_of(std::min(among, last_ + 1), is_beyond) >= needed;
  }
  double step(std::size_t before) const { return z_[last_ - before] - z_[last_ - before - 1]; }
  // `of` points whose steps all go to this side, or change it each time.
  bool steps(std::size_t of, int side, bool in_turn) const {
    if (!has(of)) return false;
    for (std::size_t i = 0; i + 1 < of; ++i) {
      const int wanted = in_turn && i % 2 == 1 ? -side : side;
      if (!(wanted * step(i) > 0)) return false;
    }
    return true;
  }

 private:
  std::span<const double> z_;
  std::size_t last_;
};

bool speaks(Rule rule, const Back& back, const Rules& rules, int side) {
  switch (rule) {
    case Rule::beyond_three: return rules.beyond_three && side * back.now() > 3;
    case Rule::two_of_three_beyond_two: return rules.two_of_three_beyond_two && back.most_beyond(2, 3, 2, side);
    case Rule::four_of_five_beyond_one: return rules.four_of_five_beyond_one && back.most_beyond(4, 5, 1, side);
    case Rule::one_side: return rules.one_side && back.all(rules.run, [&](double z) { return side * z > 0; });
    case Rule::rising_or_falling: return rules.rising_or_falling && back.steps(rising, side, false);
    case Rule::alternating: return rules.alternating && back.steps(alternating_points, side, true);
    case Rule::within_one:
      return rules.within_one && side > 0 && back.all(within, [](double z) { return std::abs(z) < 1; });
    case Rule::beyond_one_both_sides: break;
  }
  return rules.beyond_one_both_sides && side > 0 && back.all(both_sides, [](double z) { return std::abs(z) > 1; }) &&
         back.count_of(both_sides, [](double z) { return z > 0; }) % both_sides != 0;
}

std::size_t length_of(Rule rule, const Rules& rules) {
  switch (rule) {
    case Rule::beyond_three: return 1;
    case Rule::two_of_three_beyond_two: return 3;
    case Rule::four_of_five_beyond_one: return 5;
    case Rule::one_side: return rules.run;
    case Rule::rising_or_falling: return rising;
    case Rule::alternating: return alternating_points;
    case Rule::within_one: return within;
    case Rule::beyond_one_both_sides: break;
  }
  return both_sides;
}

bool has_no_side(Rule rule) {
  return rule == Rule::alternating || rule == Rule::within_one || rule == Rule::beyond_one_both_sides;
}

constexpr Rule all_rules[] = {Rule::beyond_three, Rule::two_of_three_beyond_two, Rule::four_of_five_beyond_one,
                              Rule::one_side,     Rule::rising_or_falling,       Rule::alternating,
                              Rule::within_one,   Rule::beyond_one_both_sides};

std::string pattern_of(const Signal& signal) {
  const std::string_view side = signal.side > 0 ? "above" : "below";
  const std::size_t count = signal.last - signal.first + 1;
  switch (signal.rule) {
    case Rule::beyond_three: return fmt::format("a point more than 3 sigma {} the centre", side);
    case Rule::two_of_three_beyond_two: return fmt::format("2 of 3 points more than 2 sigma {} the centre", side);
    case Rule::four_of_five_beyond_one: return fmt::format("4 of 5 points more than 1 sigma {} the centre", side);
    case Rule::one_side: return fmt::format("{} points in a row {} the centre", count, side);
    case Rule::rising_or_falling: return fmt::format("{} points in a row, each {} the one before", count, side);
    case Rule::alternating: return fmt::format("{} points in a row that go up and down in turn", count);
    case Rule::within_one: return fmt::format("{} points in a row within 1 sigma: the limits are too wide", count);
    case Rule::beyond_one_both_sides: break;
  }
  return fmt::format("{} points in a row farther than 1 sigma, on both sides of the centre", count);
}

}  // namespace

std::string describe(const Signal& signal) {
  return signal.first == signal.last
             ? fmt::format("{} (point {})", pattern_of(signal), signal.last + 1)
             : fmt::format("{} (points {} to {})", pattern_of(signal), signal.first + 1, signal.last + 1);
}

std::vector<Signal> signals(std::span<const double> points, double centre, double sigma, const Rules& rules) {
  require_usable(points, centre, sigma, rules);
  std::vector<double> z;
  z.reserve(points.size());
  for (const double point : points) z.push_back((point - centre) / sigma);
  std::vector<Signal> found;
  for (std::size_t last = 0; last < z.size(); ++last) {
    const Back back(z, last);
    for (const Rule rule : all_rules) {
      for (const int side : {1, -1}) {
        if (!speaks(rule, back, rules, side)) continue;
        const std::size_t length = std::min(length_of(rule, rules), last + 1);
        found.push_back({rule, last + 1 - length, last, has_no_side(rule) ? 0 : side});
      }
    }
  }
  return found;
}

}  // namespace eyelevel::metrology::chart
