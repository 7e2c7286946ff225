// SPDX-License-Identifier: Apache-2.0
#include "core/record/books/names.hpp"

#include <fmt/format.h>

#include <optional>

#include "core/base/error.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::record {

namespace {

using base::Error;
using base::ErrorCode;

// Length in bytes of the character that begins at `text`, which is UTF-8.
std::size_t length_of_first(std::string_view text) {
  const auto lead = static_cast<unsigned char>(text.front());
  return lead < 0x80 ? 1 : lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
}

// Control characters (general category Cc) and those that change the direction or take no room (U+200B to U+200F,
// U+2028 to U+202E, U+2066 to U+2069, U+FEFF): Unicode Standard, chapter 23.
bool is_unseen(std::string_view character) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(character[i]); };
  if (character.size() == 1) return at(0) < 0x20 || at(0) == 0x7F;
  if (character.size() == 2) return at(0) == 0xC2 && at(1) < 0xA0;
  if (character.size() != 3) return false;
  if (at(0) == 0xE2 && at(1) == 0x80) return (at(2) >= 0x8B && at(2) <= 0x8F) || (at(2) >= 0xA8 && at(2) <= 0xAE);
  if (at(0) == 0xE2 && at(1) == 0x81) return at(2) >= 0xA6 && at(2) <= 0xA9;
  return character == "\xEF\xBB\xBF";
}

std::string required(std::string_view what, std::string_view given, std::size_t characters_max) {
  const auto refuse = [&](const std::string& why, const char* advice) -> Error {
    return {ErrorCode::bad_input, fmt::format("{} \"{}\" {}", what, base::escaped(given, 80), why), advice};
  };
  const auto from = given.find_first_not_of(" \t\r\n"), to = given.find_last_not_of(" \t\r\n");
  const std::string_view text = from == std::string_view::npos ? "" : given.substr(from, to - from + 1);
  if (clean_utf8(text) != text) throw refuse("is not UTF-8", "set the scanner or the terminal to UTF-8");
  std::size_t characters = 0;
  for (std::size_t i = 0; i < text.size(); ++characters) {
    const auto one = text.substr(i, length_of_first(text.substr(i)));
    if (is_unseen(one))
      throw refuse("holds a control character", "is the scanner set up right? write it with letters and digits");
    i += one.size();
  }
  if (characters > characters_max)
    throw refuse(fmt::format("has {} characters; at most {} are kept", characters, characters_max),
                 "was more than one label scanned?");
  return std::string(text);
}

}  // namespace

std::string required_name(std::string_view what, std::string_view given) {
  std::string name = required(what, given, name_characters_max);
  if (name.empty())
    throw Error(ErrorCode::bad_input, fmt::format("{} is empty", what), "write what stands on the label");
  return name;
}

std::string required_words(std::string_view what, std::string_view given) {
  return required(what, given, words_characters_max);
}

std::string shown(std::string_view text, std::size_t characters_max) {
  const std::string clean = clean_utf8(text);
  std::string out;
  std::size_t characters = 0;
  for (std::size_t i = 0; i < clean.size(); ++characters) {
    if (characters == characters_max) return out + "…";
    const auto one = std::string_view(clean).substr(i, length_of_first(std::string_view(clean).substr(i)));
    if (is_unseen(one))
      for (const char c : one) out += fmt::format("\\x{:02x}", static_cast<unsigned char>(c));
    else
      out += one;
    i += one.size();
  }
  return out;
}

}  // namespace eyelevel::record
