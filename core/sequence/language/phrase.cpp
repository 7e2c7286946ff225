// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/phrase.hpp"

#include <fmt/format.h>

#include "core/yaml/key_table.hpp"

namespace eyelevel::sequence {

namespace {

constexpr std::string_view white = " \t\r\n";

bool is_text(const yaml::Node& node, std::string_view example, yaml::Mistakes& mistakes) {
  if (node.shape == yaml::Shape::text) return true;
  mistakes.add(node.mark,
               fmt::format("expected a text such as `{}`, found {}", example, yaml::with_article(node.shape)),
               fmt::format("write it as in `{}`", example));
  return false;
}

// What stands after a quantity may only be these words.
bool rest_is(const yaml::Node& node, std::size_t from, std::string_view allowed, yaml::Mistakes& mistakes) {
  std::string_view rest = std::string_view(node.text).substr(std::min(from, node.text.size()));
  while (!rest.empty() && white.find(rest.back()) != std::string_view::npos) rest.remove_suffix(1);
  if (rest.empty() || rest == allowed) return true;
  mistakes.add(node.mark_of(from), fmt::format("'{}' is not understood here", rest),
               fmt::format("only `{}` may follow the quantity", allowed));
  return false;
}

}  // namespace

std::vector<Word> words_of(std::string_view text) {
  std::vector<Word> all;
  for (std::size_t at = text.find_first_not_of(white); at != std::string_view::npos;
       at = text.find_first_not_of(white, at)) {
    const std::size_t end = std::min(text.find_first_of(white, at), text.size());
    all.push_back({std::string(text.substr(at, end - at)), at});
    at = end;
  }
  return all;
}

std::optional<double> read_length_s(const yaml::Node& node, yaml::Mistakes& mistakes) {
  if (!is_text(node, "500 us long", mistakes)) return std::nullopt;
  const auto scanned = quantity::scan_quantity(node.text);
  if (!scanned) {
    yaml::report(node, scanned.error(), mistakes);
    return std::nullopt;
  }
  const quantity::AnyQuantity value = scanned->value;
  if (value.dimension == quantity::ratio) {
    mistakes.add(node.mark, fmt::format("'{}' has no unit of time", node.text), "write a time such as `500 us long`");
    return std::nullopt;
  }
  if (value.dimension != quantity::time) {
    mistakes.add(node.mark,
                 fmt::format("expected a time such as 500 us, found {} ({})", quantity::with_article(value.dimension),
                             node.text),
                 "write a time such as `500 us long`");
    return std::nullopt;
  }
  if (!rest_is(node, scanned->end, "long", mistakes)) return std::nullopt;
  if (!(value.si > 0)) {
    mistakes.add(node.mark, fmt::format("a length of {} is nothing to capture", quantity::print(value)),
                 "write a time above zero, such as `500 us long`");
    return std::nullopt;
  }
  return value.si;
}

std::optional<quantity::Span> read_screen(const yaml::Node& node, yaml::Mistakes& mistakes) {
  constexpr std::string_view example = "0.6 V to 2.6 V at the probe tip";
  if (!is_text(node, example, mistakes)) return std::nullopt;
  const auto scanned = quantity::scan_span(node.text);
  if (!scanned) {
    yaml::report(node, scanned.error(), mistakes);
    return std::nullopt;
  }
  const quantity::Span& span = scanned->value;
  if (span.dimension != quantity::voltage) {
    mistakes.add(node.mark,
                 fmt::format("expected voltages, found {} ({})", quantity::with_article(span.dimension), node.text),
                 fmt::format("write `{}`", example));
    return std::nullopt;
  }
  if (!rest_is(node, scanned->end, "at the probe tip", mistakes)) return std::nullopt;
  if (!span.low || !span.high || !(*span.low < *span.high)) {
    mistakes.add(node.mark, fmt::format("a screen has a lower and an upper end, found '{}'", node.text),
                 fmt::format("write `{}`", example));
    return std::nullopt;
  }
  return span;
}

std::optional<long long> read_count(const yaml::Node& node, const CountPhrase& phrase, yaml::Mistakes& mistakes) {
  const auto with = [](std::string_view before, long long n, std::string_view after) {
    return fmt::format("{}{}{}{}{}", before, before.empty() ? "" : " ", n, after.empty() ? "" : " ", after);
  };
  const std::string example = with(phrase.before, std::max(phrase.least, 64LL), phrase.after);
  if (!is_text(node, example, mistakes)) return std::nullopt;
  std::string_view text = node.text;
  if (!phrase.before.empty() && text.starts_with(phrase.before)) text.remove_prefix(phrase.before.size());
  if (!phrase.after.empty() && text.ends_with(phrase.after)) text.remove_suffix(phrase.after.size());
  const auto words = words_of(text);
  const auto count = words.size() == 1 ? quantity::parse_count(words.front().text)
                                       : quantity::Parsed<long long>(quantity::TextError{});
  if (!count) {
    mistakes.add(node.mark, fmt::format("expected a whole number as in `{}`, found '{}'", example, node.text),
                 fmt::format("write `{}`", example));
    return std::nullopt;
  }
  if (*count < phrase.least || *count > phrase.most) {
    mistakes.add(node.mark, fmt::format("{} is outside {} to {}", *count, phrase.least, phrase.most),
                 fmt::format("write a number from {} to {}", phrase.least, phrase.most));
    return std::nullopt;
  }
  return *count;
}

std::optional<bench::Trigger> read_trigger(const yaml::Node& node, yaml::Mistakes& mistakes) {
  constexpr std::string_view example = "rising through 1.6 V";
  if (!is_text(node, example, mistakes)) return std::nullopt;
  const auto words = words_of(node.text);
  const bool is_rising = !words.empty() && words[0].text == "rising";
  const bool is_falling = !words.empty() && words[0].text == "falling";
  if (words.size() < 3 || !(is_rising || is_falling) || words[1].text != "through") {
    mistakes.add(node.mark, fmt::format("'{}' says no trigger", node.text),
                 fmt::format("write `{}` or `falling through 1.6 V`", example));
    return std::nullopt;
  }
  const auto level = quantity::parse_quantity(std::string_view(node.text).substr(words[2].offset), quantity::voltage);
  if (!level) {
    quantity::TextError error = level.error();
    error.offset += words[2].offset;
    yaml::report(node, error, mistakes);
    return std::nullopt;
  }
  return bench::Trigger{*level, is_rising ? bench::Edge::rising : bench::Edge::falling};
}

}  // namespace eyelevel::sequence
