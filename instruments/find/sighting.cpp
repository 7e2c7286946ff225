// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/sighting.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdint>

namespace eyelevel::find {
namespace {

std::string_view trimmed(std::string_view text) {
  const auto is_space = [](char c) { return static_cast<unsigned char>(c) <= 0x20; };
  while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
  while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
  return text;
}

struct Character {
  std::uint32_t code = 0;
  std::size_t bytes = 0;  // 0: no UTF-8 (RFC 3629, 4: no overlong forms, no surrogates, up to U+10FFFF)
};

Character first_of(std::string_view bytes) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned char>(bytes[i]); };
  const std::uint32_t lead = at(0);
  if (lead < 0x80) return {lead, 1};
  const std::size_t count = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || bytes.size() < count) return {};
  std::uint32_t code = lead & (0x7FU >> count);
  for (std::size_t i = 1; i < count; ++i) {
    if ((at(i) & 0xC0U) != 0x80U) return {};
    code = code << 6U | (at(i) & 0x3FU);
  }
  constexpr std::array<std::uint32_t, 5> least{0, 0, 0x80, 0x800, 0x10000};
  if (code < least[count] || code > 0x10FFFF || (code >= 0xD800 && code <= 0xDFFF)) return {};
  return {code, count};
}

bool is_harmless(std::uint32_t code) {
  if (code < 0x20 || (code >= 0x7F && code < 0xA0)) return false;
  if (code == 0x061C || (code >= 0x200B && code <= 0x200F)) return false;  // marks without width or of direction
  if (code >= 0x2028 && code <= 0x202E) return false;                      // line ends, embeddings, overrides
  return !(code >= 0x2066 && code <= 0x2069) && code != 0xFEFF;            // isolates, byte order mark
}

}  // namespace

Identity identity_of(std::string_view answer) {
  Identity identity;
  const std::array fields{&identity.maker, &identity.model, &identity.serial, &identity.firmware};
  for (std::size_t i = 0; i < fields.size() && !answer.empty(); ++i) {
    const std::size_t end = i + 1 < fields.size() ? std::min(answer.find(','), answer.size()) : answer.size();
    const auto field = trimmed(answer.substr(0, end));
    if (field != "0") *fields[i] = std::string(field);
    answer.remove_prefix(std::min(end + 1, answer.size()));
  }
  return identity;
}

std::string text_of(const Identity& identity) {
  if (identity.empty()) return {};
  const auto field = [](const std::string& text) { return text.empty() ? std::string("0") : text; };
  return fmt::format("{},{},{},{}", field(identity.maker), field(identity.model), field(identity.serial),
                     field(identity.firmware));
}

std::string printable(std::string_view bytes, std::size_t most) {
  std::string out;
  const std::size_t whole = bytes.size();
  const bool cut = whole > most;
  if (cut) bytes = bytes.substr(0, most);
  while (!bytes.empty()) {
    const auto c = first_of(bytes);
    const std::size_t count = std::max<std::size_t>(c.bytes, 1);
    if (c.bytes == 0 || (c.code < 0x80 && !is_harmless(c.code))) {
      out += fmt::format("\\x{:02x}", static_cast<unsigned char>(bytes[0]));
    } else if (!is_harmless(c.code)) {
      out += fmt::format("\\u{:04x}", c.code);
    } else {
      if (c.code == '"' || c.code == '\\') out += '\\';
      out += bytes.substr(0, count);
    }
    bytes.remove_prefix(count);
  }
  if (cut) out += fmt::format("... ({} bytes in all)", whole);
  return out;
}

}  // namespace eyelevel::find
