// SPDX-License-Identifier: Apache-2.0
// Reads the published vectors of tests/data/disc (see README.md there). Tests run in the root of the repository.
#pragma once

#include <boost/json.hpp>

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::tests {

inline std::ifstream open_vectors(const std::string& name) {
  std::ifstream file("tests/data/disc/" + name);
  if (!file) throw std::runtime_error("tests/data/disc/" + name + " is missing");
  return file;
}

inline boost::json::value json_vectors(const std::string& name) {
  std::stringstream text;
  text << open_vectors(name).rdbuf();
  return boost::json::parse(text.str());
}

// Rows of a CSV file without its first line. A field in quotes may hold commas.
inline std::vector<std::vector<std::string>> csv_vectors(const std::string& name) {
  auto file = open_vectors(name);
  std::vector<std::vector<std::string>> rows;
  std::string line;
  std::getline(file, line);
  while (std::getline(file, line)) {
    auto& row = rows.emplace_back(1);
    bool quoted = false;
    for (const char c : line) {
      if (c == '"') {
        quoted = !quoted;
      } else if (c == ',' && !quoted) {
        row.emplace_back();
      } else {
        row.back() += c;
      }
    }
  }
  return rows;
}

template <class Bytes>
Bytes from_hex(std::string_view hex) {
  Bytes bytes{};
  if (hex.size() != 2 * bytes.size()) throw std::runtime_error("hex text of unexpected length");
  for (std::size_t i = 0; i < bytes.size(); ++i)
    bytes[i] = static_cast<std::uint8_t>(std::stoi(std::string(hex.substr(2 * i, 2)), nullptr, 16));
  return bytes;
}

template <class Bytes>
std::vector<Bytes> frames_from_hex(const boost::json::value& list) {
  std::vector<Bytes> frames;
  for (const auto& hex : list.as_array()) frames.push_back(from_hex<Bytes>(std::string_view(hex.as_string())));
  return frames;
}

}  // namespace eyelevel::tests
