// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

#include "instruments/find/dns/message.hpp"

namespace eyelevel::find::dns {
namespace {

char small(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

int compare(std::string_view one, std::string_view other) {
  const std::size_t common = std::min(one.size(), other.size());
  for (std::size_t i = 0; i < common; ++i) {
    const auto a = static_cast<unsigned char>(small(one[i]));
    const auto b = static_cast<unsigned char>(small(other[i]));
    if (a != b) return a < b ? -1 : 1;
  }
  if (one.size() == other.size()) return 0;
  return one.size() < other.size() ? -1 : 1;
}

bool same(const std::string& one, const std::string& other) { return compare(one, other) == 0; }

void check(const Name& name) {
  std::size_t bytes = 1;
  for (const auto& label : name.labels) {
    if (label.empty() || label.size() > most_label_bytes)
      throw std::invalid_argument(
          fmt::format("a label of {} bytes in a DNS name; 1 to {} are possible", label.size(), most_label_bytes));
    bytes += 1 + label.size();
  }
  if (bytes > most_name_bytes)
    throw std::invalid_argument(fmt::format("a DNS name of {} bytes; {} are possible", bytes, most_name_bytes));
}

}  // namespace

bool Name::operator==(const Name& other) const {
  return labels.size() == other.labels.size() && std::equal(labels.begin(), labels.end(), other.labels.begin(),
                                                            [](const auto& a, const auto& b) { return same(a, b); });
}

bool Name::operator<(const Name& other) const {
  return std::lexicographical_compare(labels.begin(), labels.end(), other.labels.begin(), other.labels.end(),
                                      [](const auto& a, const auto& b) { return compare(a, b) < 0; });
}

bool Name::ends_with(const Name& end) const {
  return labels.size() >= end.labels.size() && std::equal(end.labels.rbegin(), end.labels.rend(), labels.rbegin(),
                                                          [](const auto& a, const auto& b) { return same(a, b); });
}

Name name_of(std::string_view text) {
  Name name;
  while (!text.empty()) {
    const std::size_t dot = std::min(text.find('.'), text.size());
    name.labels.emplace_back(text.substr(0, dot));
    text.remove_prefix(std::min(dot + 1, text.size()));
  }
  check(name);
  return name;
}

Name below(std::string_view label, const Name& name) {
  Name longer;
  longer.labels.reserve(name.labels.size() + 1);
  longer.labels.emplace_back(label);
  longer.labels.insert(longer.labels.end(), name.labels.begin(), name.labels.end());
  check(longer);
  return longer;
}

std::string text_of(const Name& name) {
  std::string text;
  for (const auto& label : name.labels) {
    if (!text.empty()) text += '.';
    for (const char c : label) {
      const auto u = static_cast<unsigned char>(c);
      if (c == '.' || c == '\\') {
        text += '\\';
        text += c;
      } else if (u <= 0x20 || u >= 0x7F) {
        text += fmt::format("\\{:03}", u);
      } else {
        text += c;
      }
    }
  }
  return text;
}

}  // namespace eyelevel::find::dns
