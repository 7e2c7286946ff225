// SPDX-License-Identifier: Apache-2.0
// Which points of a control chart say that something has changed. Rules are known by their content, each can be
// switched, and each costs false alarms: on a chart in control one in 370 points by the first, one in 92 by the first
// four together. For charts of a place (individuals, averages), where points are as likely above as below.
#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

namespace eyelevel::metrology::chart {

enum class Rule {
  beyond_three,             // one point more than 3 sigma from the centre
  two_of_three_beyond_two,  // on one side
  four_of_five_beyond_one,  // on one side
  one_side,                 // `run` points in a row on one side of the centre
  rising_or_falling,        // six in a row, each above (below) the one before
  alternating,              // fourteen in a row, up and down in turn
  within_one,               // fifteen in a row within 1 sigma: the limits are too wide
  beyond_one_both_sides,    // eight in a row farther than 1 sigma, on both sides: two populations are mixed
};

struct Rules {
  bool beyond_three = true;
  bool two_of_three_beyond_two = true;
  bool four_of_five_beyond_one = true;
  bool one_side = true;
  std::size_t run = 8;  // or 9, with fewer false alarms
  bool rising_or_falling = false;
  bool alternating = false;
  bool within_one = false;
  bool beyond_one_both_sides = false;
};

struct Signal {
  Rule rule = Rule::beyond_three;
  std::size_t first = 0, last = 0;  // the points looked at, counted from 0; the last one completes the pattern
  int side = 0;                     // 1 above (or rising), -1 below (or falling), 0 both
};

// For people, points counted from 1: "2 of 3 points more than 2 sigma above the centre (points 4 to 6)".
std::string describe(const Signal& signal);

// Every point that completes a pattern, in order; several rules may speak of one point. A point on the centre belongs
// to no side. Error(bad_input): sigma not above 0, a run below 2, points that are not finite.
std::vector<Signal> signals(std::span<const double> points, double centre, double sigma, const Rules& rules = {});

}  // namespace eyelevel::metrology::chart
