// SPDX-License-Identifier: Apache-2.0
// A gauge study planned: several units, each measured several times by several operators (or on several benches), in
// an order that chance made, so that nothing that changes meanwhile looks like a unit or a person.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::report::workshop {

enum class By { operators, benches };

struct GaugeParts {
  std::vector<std::string> units;  // serials
  std::vector<std::string> who;    // operators or benches
  std::size_t repeats = 3;
  By by = By::operators;
};

struct GaugeJob {
  std::size_t place = 0;  // in the order in which they are to be done, from 1
  std::string unit;
  std::string who;
  std::size_t repeat = 0;  // of that unit by that operator, from 1
};

// "operator", "bench"; and several of them.
std::string_view name_of(By by);
std::string_view names_of(By by);

// Throws Error(bad_input): fewer than two of anything, a name twice, more than 10 000 jobs.
void require_usable(const GaugeParts& parts);

// Each unit by each once before any a second time, every round in an order of its own. Throws as
// require_usable.
std::vector<GaugeJob> plan_gauge(const GaugeParts& parts, std::uint64_t seed);

// "order,unit,operator,repeat" and its lines, as RFC 4180 has them.
std::string plan_csv(std::span<const GaugeJob> jobs, By by);

}  // namespace eyelevel::report::workshop
