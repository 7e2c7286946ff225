// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/rounds.hpp"

#include <fmt/format.h>

#include "core/quantity/text.hpp"
#include "core/yaml/key_table.hpp"

namespace eyelevel::sequence {

namespace {

constexpr long long rounds_most = 1000000;
constexpr long long tries_most = 100;
constexpr double longest_s = 31 * 24 * 3600.0;

// Reads a phrase piece by piece; the first mistake is reported, and everything after it gives nothing.
class Phrase {
 public:
  Phrase(const yaml::Node& node, std::string_view example, yaml::Mistakes& mistakes)
      : node_(node), example_(example), mistakes_(mistakes), rest_(node.text) {
    if (node.shape != yaml::Shape::text)
      wrong(fmt::format("expected a text, found {}", yaml::with_article(node.shape)));
  }

  bool ok() const { return ok_; }
  bool at_end() const { return rest_.empty(); }
  bool word(std::string_view word) {
    if (!rest_.starts_with(word)) return false;
    const std::string_view after = rest_.substr(word.size());
    if (!after.empty() && after.front() != ' ') return false;
    skip(word.size());
    return true;
  }
  void must(std::string_view wanted) {
    if (ok_ && !word(wanted)) wrong(fmt::format("expected `{}` at '{}'", wanted, rest_));
  }
  long long count(long long most) {
    const std::size_t end = std::min(rest_.find(' '), rest_.size());
    const auto parsed = quantity::parse_count(rest_.substr(0, end));
    if (!ok_) return 0;
    if (!parsed || *parsed < 1 || *parsed > most) {
      wrong(fmt::format("expected a number from 1 to {} at '{}'", most, rest_));
      return 0;
    }
    skip(end);
    return *parsed;
  }
  base::Duration time() {
    if (!ok_) return {};
    const auto scanned = quantity::scan_quantity(rest_);
    if (!scanned || scanned->value.dimension != quantity::time || !(scanned->value.si > 0) ||
        scanned->value.si > longest_s) {
      wrong(fmt::format("expected a time above zero and below 31 days at '{}'", rest_));
      return {};
    }
    skip(scanned->end);
    return base::from_seconds(scanned->value.si);
  }
  void end() {
    if (ok_ && !at_end()) wrong(fmt::format("'{}' is not understood here", rest_));
  }
  void wrong(std::string message) {
    if (!ok_) return;
    ok_ = false;
    mistakes_.add(node_.mark_of(node_.text.size() - rest_.size()), std::move(message),
                  fmt::format("write it as in `{}`", example_));
  }

 private:
  void skip(std::size_t length) {
    rest_.remove_prefix(length);
    rest_.remove_prefix(std::min(rest_.find_first_not_of(' '), rest_.size()));
  }

  const yaml::Node& node_;
  std::string_view example_;
  yaml::Mistakes& mistakes_;
  std::string_view rest_;
  bool ok_ = true;
};

}  // namespace

std::optional<RoundsPhrase> read_rounds(const yaml::Node& node, yaml::Mistakes& mistakes) {
  Phrase phrase(node, "at most 6 times` or `every 1 min for 8 h", mistakes);
  RoundsPhrase read;
  if (phrase.word("every")) {
    const base::Duration every = phrase.time();
    phrase.must("for");
    const base::Duration length = phrase.time();
    phrase.end();
    if (phrase.ok() && (length < every || length / every > rounds_most))
      phrase.wrong(length < every ? "not even one round goes into that time"
                                  : fmt::format("more than {} rounds", rounds_most));
    if (!phrase.ok()) return std::nullopt;
    read.rounds = {.times = (length + every - base::Duration(1)) / every, .pause = {}, .every = every};
    return read;
  }
  read.is_at_most = phrase.word("at most");
  read.rounds.times = phrase.count(rounds_most);
  if (!phrase.word("time")) phrase.must("times");
  phrase.end();
  if (!phrase.ok()) return std::nullopt;
  return read;
}

std::optional<TryAgain> read_try_again(const yaml::Node& node, yaml::Mistakes& mistakes) {
  yaml::Node plain = node;
  // The comma is for the eye.
  if (const std::size_t comma = plain.text.find(','); comma != std::string::npos) plain.text[comma] = ' ';
  Phrase phrase(plain, "at most 2 times, after 5 s", mistakes);
  phrase.must("at most");
  TryAgain again;
  again.times = phrase.count(tries_most);
  if (!phrase.word("time")) phrase.must("times");
  if (phrase.word("after")) again.after = phrase.time();
  phrase.end();
  if (!phrase.ok()) return std::nullopt;
  return again;
}

}  // namespace eyelevel::sequence
