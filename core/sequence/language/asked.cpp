// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/asked.hpp"

#include <fmt/format.h>

namespace eyelevel::sequence {

bool is_of_word(char c) {
  return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-' || c == '.';
}

namespace {

// What is usual and allowed; reports what does not fit. False when neither can be used.
bool read_value(const yaml::Entry& entry, Asked& asked, yaml::Mistakes& mistakes) {
  const yaml::Node* usual = entry.value.find("usual");
  const yaml::Node* allowed = entry.value.find("allowed");
  if (!usual && !allowed) {
    mistakes.add(entry.key_mark, fmt::format("nothing says what kind of value '{}' is", entry.key),
                 "write `usual: 1.20 V` or `allowed: 0.90 V to 1.30 V`");
    return false;
  }
  if (allowed) {
    const auto span = quantity::parse_span(allowed->text);
    if (!span) {
      yaml::report(*allowed, span.error(), mistakes, "allowed");
      return false;
    }
    asked.allowed = *span;
    asked.allowed_text = allowed->text;
    asked.dimension = span->dimension;
    asked.text = quantity::print({span->low ? *span->low : *span->high, span->dimension});
  }
  if (!usual) return true;
  const auto value = quantity::parse_quantity(usual->text);
  if (!value) {
    yaml::report(*usual, value.error(), mistakes, "usual");
    return false;
  }
  if (!allowed) asked.dimension = value->dimension;
  if (const auto fits = allowed_value(asked, usual->text); !fits) {
    yaml::report(*usual, fits.error(), mistakes, "usual");
    return false;
  }
  asked.usual = asked.text = usual->text;
  return true;
}

}  // namespace

yaml::KeyTable asked_table() {
  using yaml::Type;
  yaml::KeyTable table{.name = "what is asked", .about = "a value that is given before a run begins", .keys = {}};
  table.keys = {
      {.name = "about",
       .required = true,
       .type = Type::text,
       .help = "what it is, in one line",
       .example = "level from the model sheet"},
      {.name = "usual", .type = Type::text, .help = "what is taken when nothing else is said", .example = "1.20 V"},
      {.name = "allowed", .type = Type::text, .help = "what it must lie in", .example = "0.90 V to 1.30 V"}};
  return table;
}

quantity::Parsed<double> allowed_value(const Asked& asked, std::string_view text) {
  const auto value = quantity::parse_quantity(text, asked.dimension);
  if (!value || !asked.allowed || asked.allowed->contains(*value)) return value;
  return quantity::TextError{0, fmt::format("{} is not allowed", text),
                             fmt::format("it must be {}", asked.allowed_text)};
}

std::vector<Asked> read_asked(const yaml::Node* node, const std::map<std::string, std::string>& set,
                              yaml::Mistakes& mistakes) {
  std::vector<Asked> all;
  if (!node || node->shape != yaml::Shape::map) return all;
  for (const yaml::Entry& e : node->entries) {
    if (e.value.shape != yaml::Shape::map) continue;  // reported by the table
    Asked asked;
    asked.name = e.key;
    asked.line = e.key_mark.line;
    asked.column = e.key_mark.column;
    if (const yaml::Node* about = e.value.find("about")) asked.about = about->text;
    if (!read_value(e, asked, mistakes)) continue;
    if (const auto given = set.find(e.key); given != set.end() && allowed_value(asked, given->second)) {
      asked.text = given->second;
      asked.is_set = true;
    }
    asked.si = *allowed_value(asked, asked.text);
    all.push_back(std::move(asked));
  }
  return all;
}

std::string with_values(std::string_view text, const std::vector<Asked>& asked) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const auto from = text.begin() + static_cast<std::ptrdiff_t>(at);
    const auto end = std::find_if_not(from, text.end(), is_of_word);
    const std::string_view word = text.substr(at, std::max<std::size_t>(static_cast<std::size_t>(end - from), 1));
    const auto it = std::find_if(asked.begin(), asked.end(), [&](const Asked& a) { return a.name == word; });
    out += it == asked.end() ? word : std::string_view(it->text);
    at += word.size();
  }
  return out;
}

yaml::Node with_asked_values(const yaml::Node& step, const yaml::KeyTable& parameters,
                             const std::vector<Asked>& asked) {
  using yaml::Type;
  yaml::Node with = step;
  if (asked.empty()) return with;
  for (yaml::Entry& e : with.entries) {
    const yaml::Key* key = parameters.find(e.key);
    if (!key || (key->type != Type::quantity && key->type != Type::span && key->type != Type::tolerance)) continue;
    std::string text = with_values(e.value.text, asked);
    // What was put in does not stand in the file: only the beginning of the text does.
    e.value.is_plain = e.value.is_plain && text == e.value.text;
    e.value.text = std::move(text);
  }
  return with;
}

}  // namespace eyelevel::sequence
