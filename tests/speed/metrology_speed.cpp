// SPDX-License-Identifier: Apache-2.0
// What one budget costs, against the same interval by Monte Carlo as JCGM 101:2008 clause 7 describes it, with the
// fewest draws that reach about 1 % of the half-width (10 000).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "core/base/random.hpp"
#include "core/metrology/reading.hpp"
#include "tests/speed/speed.hpp"

namespace eyelevel::speed {

void metrology_speed(Table& table) {
  using metrology::Shape;
  const std::vector<metrology::Contribution> budget{{"captures", 'A', Shape::normal, 0.0040, 63},
                                                    {"gain", 'B', Shape::rectangular, 0.0104},
                                                    {"code", 'B', Shape::rectangular, 0.0036},
                                                    {"probe", 'B', Shape::rectangular, 0.0069},
                                                    {"loading", 'B', Shape::rectangular, 0.0020}};
  base::Random random(1, "budget");
  std::vector<double> errors(10000);
  double by_draws = 0;
  double by_functions = 0;
  constexpr int repeats = 100;
  const Pair best = shortest_of_both(
      5,
      [&] {
        const double a = std::sqrt(3.0);
        for (double& error : errors) {
          error = 0.0040 * random.normal();
          for (const double effect : {0.0104, 0.0036, 0.0069, 0.0020}) error += effect * random.uniform(-a, a);
          error = std::abs(error);
        }
        const auto place = errors.begin() + 9500;
        std::nth_element(errors.begin(), place, errors.end());
        by_draws = *place;
      },
      [&] {
        for (int i = 0; i < repeats; ++i) by_functions = metrology::combine(budget).expanded_uncertainty;
      });
  require(std::abs(by_draws / by_functions - 1) < 0.05, "half-width of a budget");
  const double one_s = best.second_s / repeats;
  table.add({"interval of a budget of five lines", "the same by 10 000 random draws", one_s / best.first_s,
             "x its time", 0.2, 0.6, true,
             fmt::format("{:.0f} us against {:.0f} us", one_s * 1e6, best.first_s * 1e6)});
}

}  // namespace eyelevel::speed
