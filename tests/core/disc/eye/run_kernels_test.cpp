// SPDX-License-Identifier: Apache-2.0
// Every vector width that this processor has against plain loops in double precision.
#include "core/disc/eye/run_kernels.hpp"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

#include "core/base/random.hpp"
#include "tests/support/each_target.hpp"
#include "tests/support/run_row.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;
using support::on_each_target;

namespace {

// Runs in turn of any length, one in ten left out; odd numbers of them leave some beside whole vectors.
std::vector<eye::Run> runs_of(std::size_t n, bool first_high) {
  base::Random random(n, "runs");
  std::vector<eye::Run> runs;
  double at = 1000;
  for (std::size_t k = 0; k < n; ++k) {
    const int length = 3 + static_cast<int>(random.below(9));
    const double end = at + (length + random.normal(0, 0.05)) * 4.6277;
    const bool high = (k % 2 == 0) == first_high;
    const auto level = static_cast<float>(random.uniform(-1, 1));
    runs.push_back({at, end, 4.6277F, level, random.below(10) == 0 ? 0 : length, high,
                    static_cast<float>(random.normal(0, 0.05))});
    at = end;
  }
  return runs;
}

const std::size_t sizes[] = {1, 2, 15, 16, 17, 129, 512};

void check(const eye::Sums& sums, const eye::Sums& plain) {
  REQUIRE(sums.count == plain.count);
  // Of the sizes of what is added: their root mean square does not exceed the root of the mean of squares.
  const double sizes_sum = std::sqrt(plain.squares * plain.count);
  REQUIRE(std::abs(sums.sum - plain.sum) <= std::ldexp(sizes_sum, -19));
  REQUIRE(std::abs(sums.squares - plain.squares) <= std::ldexp(plain.squares, -19));
}

template <class T>
void check_centres(double scale) {
  base::Random random(4, "samples");
  std::vector<T> x;
  for (int i = 0; i < 20000; ++i) {
    const double value = scale * random.uniform(-1, 1);
    x.push_back(static_cast<T>(std::is_floating_point_v<T> ? value : std::nearbyint(value)));
  }
  const float reference = static_cast<float>(0.3 * scale);
  for (const std::size_t n : sizes) {
    support::RunRow(runs_of(n, true)).give([&](const eye::Runs& runs) {
      on_each_target([&] {
        std::vector<float> found(n);
        eye::kernels::centres(std::span<const T>(x), runs, reference, found.data());
        for (std::size_t k = 0; k < n; ++k) {
          const double middle = runs.middle(k), u = middle - std::floor(middle);
          const T* at = x.data() + static_cast<std::size_t>(middle);
          const double a = u + 1, c = u - 1, d = u - 2;
          const double truth =
              static_cast<double>(at[-1]) * (u * c * d / -6) + static_cast<double>(at[0]) * (a * c * d / 2) +
              static_cast<double>(at[1]) * (a * u * d / -2) + static_cast<double>(at[2]) * (a * u * c / 6);
          INFO("run " << k << " of " << n);
          // Four products and the place between two samples, each of 24 bits.
          REQUIRE(std::abs(static_cast<double>(found[k]) - (truth - static_cast<double>(reference))) <
                  std::ldexp(scale, -20));
        }
      });
    });
  }
}

}  // namespace

TEST_CASE("run kernels: the excess of a run is its length in channel bits less the nominal one", "[disc]") {
  for (const std::size_t n : sizes) {
    support::RunRow(runs_of(n, true)).give([&](const eye::Runs& runs) {
      on_each_target([&] {
        std::vector<float> found(n);
        eye::kernels::excess(runs, found.data());
        for (std::size_t k = 0; k < n; ++k) {
          const double bits = (runs.end[k] - runs.start[k]) / static_cast<double>(runs.period[k]);
          REQUIRE(std::abs(static_cast<double>(found[k]) - (bits - runs.length[k])) < std::ldexp(bits, -21));
        }
      });
    });
  }
}

TEST_CASE("run kernels: values are summed up by length and side, those left out are not", "[disc]") {
  for (const bool first_high : {true, false}) {
    for (const std::size_t n : sizes) {
      eye::SumsByLength plain{};
      eye::Sums all;
      const std::vector<eye::Run> made = runs_of(n, first_high);
      for (const eye::Run& run : made) {
        if (run.length == 0) continue;
        plain[run.high ? 1 : 0][static_cast<std::size_t>(run.length)].add(static_cast<double>(run.late));
        all.add(static_cast<double>(run.late));
      }
      support::RunRow(made).give([&](const eye::Runs& runs) {
        on_each_target([&] {
          eye::SumsByLength by_length{};
          eye::kernels::add_by_length(runs.late, runs.length, runs.first_high, by_length);
          for (std::size_t side = 0; side < 2; ++side) {
            for (std::size_t length = 0; length < 12; ++length) check(by_length[side][length], plain[side][length]);
          }
          eye::Sums together;
          eye::kernels::add_all(runs.late, runs.length, together);
          check(together, all);
        });
      });
    }
  }
}

TEST_CASE("run kernels: levels of one length are picked in their order, even and odd runs apart", "[disc]") {
  for (const std::size_t n : sizes) {
    std::vector<float> centres(n);
    base::Random random(n, "centres");
    for (float& centre : centres) centre = static_cast<float>(random.uniform(-100, 100));
    support::RunRow(runs_of(n, true)).give([&](const eye::Runs& runs) {
      std::vector<float> level[2], above[2];
      for (std::size_t k = 0; k < n; ++k) {
        if (runs.length[k] != 3) continue;
        level[k % 2].push_back(centres[k] + 7.5F);
        above[k % 2].push_back(centres[k] + 7.5F - runs.level[k]);
      }
      on_each_target([&] {
        eye::kernels::LevelsOfBoth found;
        eye::kernels::pick_levels(runs, centres, runs.length, 3, 7.5F, found);
        for (const std::size_t parity : {0U, 1U}) {
          const eye::kernels::LevelRows& rows = parity == 0 ? found.even : found.odd;
          REQUIRE(std::vector<float>(rows.level.data(), rows.level.data() + rows.count) == level[parity]);
          REQUIRE(std::vector<float>(rows.above.data(), rows.above.data() + rows.count) == above[parity]);
        }
      });
    });
  }
}

TEST_CASE("run kernels: the level at a centre is that of the cubic through four samples", "[disc]") {
  check_centres<std::int8_t>(127);
  check_centres<std::int16_t>(32767);
  check_centres<float>(1);
}

TEST_CASE("run kernels: centres beyond the samples read none that are not there", "[disc]") {
  const std::vector<std::int8_t> x(16, std::int8_t{7});
  const std::vector<eye::Run> made = {{-3, 1, 4.6F, 0, 3, true}, {1, 8, 4.6F, 0, 3, false}, {14, 40, 4.6F, 0, 3, true}};
  support::RunRow(made).give([&](const eye::Runs& runs) {
    on_each_target([&] {
      std::vector<float> found(made.size());
      eye::kernels::centres(std::span<const std::int8_t>(x), runs, 0, found.data());
      CHECK(found[1] == Approx(7));
    });
  });
}
