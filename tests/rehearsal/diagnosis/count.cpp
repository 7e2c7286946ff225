// SPDX-License-Identifier: Apache-2.0
// Counts the values of each evidence over many drawn units of each cause and writes the table of likelihoods:
//   count_likelihoods tests/data/diagnosis_judgement.txt 2000 1 > core/diagnosis/likelihoods.txt
// Priors, causes without physics, and what only the slips of people decide keep their judgement.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <numeric>
#include <sstream>
#include <utility>

#include "core/diagnosis/table.hpp"
#include "tests/rehearsal/diagnosis/sick_unit.hpp"

namespace {

using namespace eyelevel;

using Counts = std::vector<double>;  // by value

constexpr std::string_view heading =
    R"(# SPDX-License-Identifier: Apache-2.0
# How likely each cause is, and how likely each cause shows each value of each evidence: P(value | cause).
# A line: cause, evidence, basis, then each value with its probability. The values of a line add up to 1; none is 0.
# `others` stands for the causes that have no line of their own for that evidence.
# Basis: `judgement` is common practice, set down by people who service players; `counted` was counted over units drawn
# from the simulated physics (tests/rehearsal/diagnosis, count.cpp) and is not field accuracy.
# `weight`: how much of an evidence counts beside the others, which partly say the same; 1 where there is no line.
# What the evidences and their values mean: names.cpp; where the classes are cut: observe.hpp.
)";

// No workshop is as tidy as what is drawn, and checks are asked for where they tell most: with the weights as they are
// fitted the belief would be a little too sure.
constexpr double lowered = 0.85;

// Soft classes count in parts. One unit in a hundred more for each value: no simulation knows all that happens.
constexpr double more_share = 0.01;

void add(std::vector<Counts>& counts, const diagnosis::Observation& o) {
  double sum = 0;
  for (const double a : o.agrees) sum += a;
  for (std::size_t v = 0; v < o.agrees.size(); ++v) counts[o.evidence][v] += o.agrees[v] / sum;
}

std::vector<Counts> counted(std::string_view cause, int units, std::uint64_t seed) {
  std::vector<Counts> counts;
  for (const auto& evidence : diagnosis::evidences()) counts.emplace_back(evidence.values.size(), units * more_share);
  for (int i = 0; i < units; ++i) {
    const base::Random random = base::Random(seed, "count").stream(fmt::format("{} {}", cause, i));
    const auto unit = test::draw_sick_unit(cause, random.stream("unit"));
    for (const auto& o : test::first_look(unit, random.stream("first look"))) add(counts, o);
    for (const auto& evidence : diagnosis::evidences())
      if (evidence.check && test::is_counted(evidence.id))
        add(counts, test::checked(unit, evidence.id, random.stream(evidence.id)));
  }
  return counts;
}

// What most causes without a counted row share, for `others`; empty: there is no such row.
const Counts* shared(const diagnosis::Table& judged, std::size_t evidence) {
  const Counts* best = nullptr;
  std::ptrdiff_t most = 1;
  for (const auto& rows : judged.rows) {
    const auto same = std::count_if(judged.rows.begin(), judged.rows.end(), [&](const auto& other) {
      return other[evidence].probability == rows[evidence].probability;
    });
    if (same > most) best = &rows[evidence].probability, most = same;
  }
  return best;
}

// Logarithms of what each evidence of a drawn unit says of each cause; no row where it was not looked at.
struct Told {
  std::size_t cause;
  std::vector<std::vector<double>> log_likelihood;  // [evidence][cause]
};

Told told_of(const diagnosis::Table& table, std::size_t cause, const base::Random& random) {
  const auto unit = test::draw_sick_unit(diagnosis::causes()[cause].id, random.stream("unit"));
  auto seen = test::first_look(unit, random.stream("first look"));
  for (const auto& evidence : diagnosis::evidences())
    if (evidence.check) seen.push_back(test::checked(unit, evidence.id, random.stream(evidence.id)));
  Told told{cause, std::vector<std::vector<double>>(diagnosis::evidences().size())};
  for (const auto& o : seen)
    for (const auto& rows : table.rows) {
      const auto& p = rows[o.evidence].probability;
      told.log_likelihood[o.evidence].push_back(
          std::log(std::inner_product(p.begin(), p.end(), o.agrees.begin(), 0.0)));
    }
  return told;
}

// -log of the belief in the right cause, at the first look and with all checks; every cause as likely as any other.
double loss_of(const Told& told, const std::vector<double>& weight) {
  std::vector<double> sum(diagnosis::causes().size());
  double loss = 0;
  const auto add_loss = [&] {
    const double most = *std::max_element(sum.begin(), sum.end());
    double total = 0;
    for (const double s : sum) total += std::exp(s - most);
    loss += std::log(total) + most - sum[told.cause];
  };
  for (const bool checks : {false, true}) {
    for (std::size_t e = 0; e < weight.size(); ++e)
      if (diagnosis::evidences()[e].check.has_value() == checks)
        for (std::size_t c = 0; c < told.log_likelihood[e].size(); ++c) sum[c] += weight[e] * told.log_likelihood[e][c];
    add_loss();
  }
  return loss;
}

// The weights with which the right causes are believed most, one after the other until none changes.
std::vector<double> fitted_weights(const diagnosis::Table& table, int units, std::uint64_t seed) {
  std::vector<Told> all;
  for (const std::string_view cause : test::causes_with_physics())
    for (int i = 0; i < units; ++i)
      all.push_back(told_of(table, *diagnosis::find_cause(cause),
                            base::Random(seed, "weights").stream(fmt::format("{} {}", cause, i))));
  const auto loss = [&](const std::vector<double>& weight) {
    double sum = 0;
    for (const Told& told : all) sum += loss_of(told, weight);
    return sum;
  };
  std::vector<double> weight(diagnosis::evidences().size(), 1.0);
  double least = loss(weight);
  for (bool changed = true; changed;) {
    changed = false;
    for (double& w : weight)
      for (int tenth = 1; tenth <= 10; ++tenth) {
        const double before = std::exchange(w, tenth / 10.0);
        const double now = loss(weight);
        if (now < least * (1 - 1e-6))
          least = now, changed = true;
        else
          w = before;
      }
  }
  return weight;
}

std::string row_text(std::string_view cause, std::string_view evidence, const char* basis,
                     const diagnosis::Evidence& of, const Counts& weights) {
  double sum = 0;
  for (const double w : weights) sum += w;
  std::string text = fmt::format("{:<20}{:<18}{:<10}", cause, evidence, basis);
  for (std::size_t v = 0; v < weights.size(); ++v)
    text += fmt::format("{}{} {:.4f}", v ? "  " : "", of.values[v].id, weights[v] / sum);
  return text + "\n";
}

std::string table_text(const diagnosis::Table& judged, int units, std::uint64_t seed) {
  const auto with_physics = test::causes_with_physics();
  std::vector<std::vector<Counts>> all;
  for (const auto& cause : diagnosis::causes()) {
    const bool is_there = std::find(with_physics.begin(), with_physics.end(), cause.id) != with_physics.end();
    all.push_back(is_there ? counted(cause.id, units, seed) : std::vector<Counts>());
  }
  std::string text;
  for (std::size_t c = 0; c < all.size(); ++c)
    text += fmt::format("{:<20}{:<18}judgement workshop {:.4f}\n", diagnosis::causes()[c].id, "prior", judged.prior[c]);
  for (std::size_t e = 0; e < diagnosis::evidences().size(); ++e) {
    const auto& evidence = diagnosis::evidences()[e];
    const Counts* others = evidence.check ? shared(judged, e) : nullptr;
    text += "\n";
    for (std::size_t c = 0; c < all.size(); ++c) {
      const Counts& row = judged.rows[c][e].probability;
      if (!all[c].empty() && test::is_counted(evidence.id))
        text += row_text(diagnosis::causes()[c].id, evidence.id, "counted", evidence, all[c][e]);
      else if (!others || row != *others)
        text += row_text(diagnosis::causes()[c].id, evidence.id, "judgement", evidence, row);
    }
    if (others) text += row_text("others", evidence.id, "judgement", evidence, *others);
  }
  return text;
}

}  // namespace

int main(int count, char** words) {
  if (count != 4) {
    fmt::print(stderr, "count_likelihoods JUDGEMENT UNITS SEED\n");
    return 2;
  }
  std::ifstream file(words[1]);
  std::ostringstream text;
  text << file.rdbuf();
  const diagnosis::Table judged = diagnosis::read_table(text.str());
  const int units = std::atoi(words[2]);
  const auto seed = static_cast<std::uint64_t>(std::atoll(words[3]));
  const std::string rows = table_text(judged, units, seed);
  const auto weight = fitted_weights(diagnosis::read_table(rows), units / 4, seed + 1);
  fmt::print("{}", heading);
  fmt::print("# Counted: {} units of each cause, seed {}; weights from {} others, seed {}.\n\n", units, seed, units / 4,
             seed + 1);
  for (std::size_t e = 0; e < weight.size(); ++e)
    fmt::print("weight {} {:.3f}\n", diagnosis::evidences()[e].id, lowered * weight[e]);
  fmt::print("\n{}", rows);
  return 0;
}
