// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/reachable.hpp"

#include <fmt/format.h>

#include "core/bench/bench_file.hpp"
#include "core/metrology/judge.hpp"
#include "core/quantity/text.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::sequence {

void require_reachable(const Action& measured, const NamedLimit& named, const Step& step, const bench::BenchFile& bench,
                       yaml::Mistakes& mistakes) {
  const metrology::Limit& limit = named.limit;
  if (!limit.at_least || !limit.at_most) return;
  const auto budget = measured.least_budget(bench, (*limit.at_least + *limit.at_most) / 2);
  if (budget.empty()) return;
  const double half_width = metrology::combine(budget).expanded_uncertainty;
  if (metrology::can_pass(half_width, limit)) return;
  mistakes.add(
      {step.place.line, step.place.column},
      fmt::format("no reading can be shown to meet '{}' ({}): the instruments of the bench '{}' alone leave ± {}",
                  named.name, named.text, bench.name, quantity::print({half_width, named.dimension}, 2)),
      "widen the limit, or use better instruments");
}

}  // namespace eyelevel::sequence
