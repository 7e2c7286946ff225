// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/table.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <numeric>
#include <optional>
#include <string>

#include "core/base/error.hpp"
#include "core/diagnosis/names.hpp"

namespace eyelevel::diagnosis {

namespace {

// Four digits of 25 priors, three of five values, each rounded.
constexpr double rounded_most = 0.005;

[[noreturn]] void refuse(int line, std::string message, std::string advice) {
  throw base::Error(base::ErrorCode::bad_input,
                    line > 0 ? fmt::format("likelihoods, line {}: {}", line, message) : "likelihoods: " + message,
                    std::move(advice));
}

std::vector<std::string_view> words_of(std::string_view line) {
  std::vector<std::string_view> words;
  while (!line.empty()) {
    const std::size_t from = line.find_first_not_of(" \t\r");
    if (from == std::string_view::npos) break;
    const std::size_t until = std::min(line.find_first_of(" \t\r", from), line.size());
    words.push_back(line.substr(from, until - from));
    line.remove_prefix(until);
  }
  return words;
}

template <class List>
std::string known(const List& list) {
  std::string all;
  for (const auto& one : list) all += (all.empty() ? "" : ", ") + std::string(one.id);
  return "known are " + all;
}

double share_of(std::string_view word, int line, std::string_view what = "probability") {
  double value = 0;
  const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
  if (error != std::errc() || end != word.data() + word.size() || !(value > 0 && value <= 1))
    refuse(line, fmt::format("'{}' is no {}", word, what), "write a number above 0, at most 1; nothing is impossible");
  return value;
}

// Makes them sum to 1, which they must nearly do.
void settle(std::vector<double>& probability, int line) {
  const double sum = std::accumulate(probability.begin(), probability.end(), 0.0);
  if (std::abs(sum - 1) > rounded_most)
    refuse(line, fmt::format("the probabilities sum to {:.4f}", sum), "make them sum to 1");
  for (double& p : probability) p /= sum;
}

Row row_of(const Evidence& evidence, const std::vector<std::string_view>& words, int line) {
  Row row;
  if (words[2] != "judgement" && words[2] != "counted")
    refuse(line, fmt::format("'{}' is no basis", words[2]), "write judgement or counted");
  row.is_counted = words[2] == "counted";
  std::vector<std::optional<double>> found(evidence.values.size());
  if (words.size() % 2 == 0) refuse(line, "a value is without its probability", "write each value with its number");
  for (std::size_t i = 3; i < words.size(); i += 2) {
    const auto value = find_value(evidence, words[i]);
    if (!value) refuse(line, fmt::format("'{}' is no value of {}", words[i], evidence.id), known(evidence.values));
    if (found[*value]) refuse(line, fmt::format("'{}' stands there twice", words[i]), "name each value once");
    found[*value] = share_of(words[i + 1], line);
  }
  for (std::size_t v = 0; v < found.size(); ++v) {
    if (!found[v]) refuse(line, fmt::format("'{}' is missing", evidence.values[v].id), "name each value once");
    row.probability.push_back(*found[v]);
  }
  settle(row.probability, line);
  return row;
}

// Lines as they come, until all that is missing is filled from `others`.
struct Lines {
  std::vector<std::optional<double>> prior = std::vector<std::optional<double>>(causes().size());
  std::vector<std::vector<std::optional<Row>>> rows{causes().size(),
                                                    std::vector<std::optional<Row>>(evidences().size())};
  std::vector<std::optional<double>> weight = std::vector<std::optional<double>>(evidences().size());
  std::vector<std::optional<Row>> others = std::vector<std::optional<Row>>(evidences().size());

  void take(const std::vector<std::string_view>& words, int line);
  void take_weight(const std::vector<std::string_view>& words, int line);
  Table table() const;
};

void Lines::take_weight(const std::vector<std::string_view>& words, int line) {
  const auto evidence = words.size() == 3 ? find_evidence(words[1]) : std::nullopt;
  if (!evidence) refuse(line, "that is no weight", "write `weight`, an evidence and a number; " + known(evidences()));
  if (weight[*evidence]) refuse(line, fmt::format("the weight of {} stands there twice", words[1]), "keep one of them");
  weight[*evidence] = share_of(words[2], line, "weight");
}

void Lines::take(const std::vector<std::string_view>& words, int line) {
  if (words[0] == "weight") return take_weight(words, line);
  if (words.size() < 5) refuse(line, "it is cut short", "write cause, evidence, basis, and each value with its number");
  const auto cause = find_cause(words[0]);
  if (!cause && words[0] != "others")
    refuse(line, fmt::format("'{}' is no cause", words[0]), known(causes()) + ", others");
  if (words[1] == "prior") {
    if (!cause || words[3] != "workshop" || words.size() != 5)
      refuse(line, "that is no prior", "write a cause, `prior judgement workshop` and a number");
    if (prior[*cause]) refuse(line, fmt::format("the prior of {} stands there twice", words[0]), "keep one of them");
    prior[*cause] = share_of(words[4], line);
    return;
  }
  const auto evidence = find_evidence(words[1]);
  if (!evidence) refuse(line, fmt::format("'{}' is no evidence", words[1]), known(evidences()) + ", prior");
  std::optional<Row>& place = cause ? rows[*cause][*evidence] : others[*evidence];
  if (place) refuse(line, fmt::format("{} of {} stands there twice", words[1], words[0]), "keep one of them");
  place = row_of(evidences()[*evidence], words, line);
}

Table Lines::table() const {
  Table table;
  for (std::size_t c = 0; c < causes().size(); ++c) {
    if (!prior[c]) refuse(0, fmt::format("the prior of {} is missing", causes()[c].id), "add a line for it");
    table.prior.push_back(*prior[c]);
    table.rows.emplace_back();
    for (std::size_t e = 0; e < evidences().size(); ++e) {
      const auto& row = rows[c][e] ? rows[c][e] : others[e];
      if (!row)
        refuse(0, fmt::format("{} of {} is missing", evidences()[e].id, causes()[c].id),
               "add a line for it, or one for `others`");
      table.rows.back().push_back(*row);
    }
  }
  settle(table.prior, 0);
  for (const auto& one : weight) table.weight.push_back(one.value_or(1));
  return table;
}

}  // namespace

Table read_table(std::string_view text) {
  Lines lines;
  for (int number = 1; !text.empty(); ++number) {
    const std::size_t end = std::min(text.find('\n'), text.size());
    const auto words = words_of(text.substr(0, end));
    if (!words.empty() && !words[0].starts_with('#')) lines.take(words, number);
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return lines.table();
}

const Table& standard_table() {
  static const Table table = [] {
    try {
      return read_table(detail::likelihoods());
    } catch (const base::Error& error) {
      throw base::Error(base::ErrorCode::defect, error.record().message, "please report it");
    }
  }();
  return table;
}

}  // namespace eyelevel::diagnosis
