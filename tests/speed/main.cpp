// SPDX-License-Identifier: Apache-2.0
// Runs all benchmarks, or those whose name is given, and prints a table of ratios with target and verdict in words.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstdio>
#include <stdexcept>
#include <string_view>

#include "core/base/kept_memory.hpp"
#include "tests/speed/speed.hpp"

namespace eyelevel::speed {

namespace {

double now_s() { return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count(); }

struct Benchmark {
  std::string_view name;
  void (*run)(Table&);
};

constexpr Benchmark benchmarks[] = {
    {"signal", signal_speed},         {"metrology", metrology_speed}, {"transport", transport_speed},
    {"instrument", instrument_speed}, {"disc", disc_speed},           {"rehearsal", rehearsal_speed},
    {"sequence", sequence_speed},
};

std::string_view verdict(const Row& row) {
  const auto meets = [&](double bound) { return row.less_is_better ? row.figure <= bound : row.figure >= bound; };
  if (meets(row.target)) return "target met";
  return meets(row.tolerated) ? "tolerated" : "MISSED";
}

void print(const Row& row) {
  fmt::print("{}\n  against {}\n  {:.3g} {} (target {} {:.3g}, tolerated {:.3g}): {}\n", row.what, row.against,
             row.figure, row.unit, row.less_is_better ? "at most" : "at least", row.target, row.tolerated,
             verdict(row));
  if (!row.detail.empty()) fmt::print("  {}\n", row.detail);
}

}  // namespace

double shortest_s(int rounds, const std::function<void()>& work) {
  double best = 1e300;
  for (int i = 0; i < rounds; ++i) {
    const double from = now_s();
    work();
    best = std::min(best, now_s() - from);
  }
  return best;
}

Pair shortest_of_both(int rounds, const std::function<void()>& first, const std::function<void()>& second) {
  Pair best{1e300, 1e300};
  for (int i = 0; i < rounds; ++i) {
    best.first_s = std::min(best.first_s, shortest_s(1, first));
    best.second_s = std::min(best.second_s, shortest_s(1, second));
  }
  return best;
}

void require(bool is_right, const char* what) {
  if (!is_right) throw std::runtime_error(fmt::format("wrong answer while measuring: {}", what));
}

int run(int count, char** names) {
  Table table;
  for (const Benchmark& benchmark : benchmarks) {
    const bool wanted =
        count == 0 || std::any_of(names, names + count, [&](const char* n) { return benchmark.name == n; });
    if (wanted) benchmark.run(table);
  }
  for (const Row& row : table.rows()) print(row);
  if (table.rows().empty()) fmt::print(stderr, "no benchmark of that name\n");
  return table.rows().empty() ? 2 : 0;
}

}  // namespace eyelevel::speed

int main(int argc, char** argv) {
  eyelevel::base::keep_freed_memory();  // as `eyelevel` does
  try {
    return eyelevel::speed::run(argc - 1, argv + 1);
  } catch (const std::exception& error) {
    fmt::print(stderr, "{}\n", error.what());
    return 1;
  }
}
