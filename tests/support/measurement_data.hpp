// SPDX-License-Identifier: Apache-2.0
// Reads the worked examples and data columns of tests/data (each with its own origin), for tests of numbers.
// The tests run with the repository as working directory.
#pragma once

#include <algorithm>
#include <boost/json.hpp>
#include <cmath>
#include <fstream>
#include <iterator>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/support/number.hpp"

namespace eyelevel::test {

inline std::string data_file(const std::string& name) {
  std::ifstream file("tests/data/" + name, std::ios::binary);
  if (!file) throw std::runtime_error("no test data tests/data/" + name);
  return {std::istreambuf_iterator<char>(file), {}};
}

// The example of this name in tests/data/measurement/examples.json.
inline boost::json::object example(const std::string& id) {
  return boost::json::parse(data_file("measurement/examples.json")).as_object().at(id).as_object();
}

// A number, or a number printed as text.
inline double number(const boost::json::value& value) {
  return value.is_string() ? test::point_number(value.as_string().c_str()) : value.to_number<double>();
}

inline std::vector<double> numbers(const boost::json::value& values) {
  std::vector<double> result;
  for (const auto& value : values.as_array()) result.push_back(number(value));
  return result;
}

// A file of one column under a heading.
inline std::vector<double> column(const std::string& name) {
  const std::string text = data_file(name);
  std::vector<double> result;
  for (std::size_t at = text.find('\n') + 1; at < text.size(); at = text.find('\n', at) + 1) {
    result.push_back(test::point_number(text.substr(at)));
    if (text.find('\n', at) == std::string::npos) break;
  }
  return result;
}

// The columns of a CSV file by their heading. What is no number (empty, a name) is NaN.
inline std::map<std::string, std::vector<double>> table(const std::string& name) {
  std::istringstream lines(data_file(name));
  const auto fields_of = [](const std::string& line) {
    std::vector<std::string> fields;
    std::istringstream rest(line);
    for (std::string field; std::getline(rest, field, ',');) fields.push_back(field);
    if (line.ends_with(',')) fields.emplace_back();
    return fields;
  };
  std::string line;
  std::getline(lines, line);
  const auto headings = fields_of(line);
  std::map<std::string, std::vector<double>> columns;
  while (std::getline(lines, line)) {
    const auto fields = fields_of(line);
    if (fields.size() != headings.size()) throw std::runtime_error(name + ": a row of another length: " + line);
    for (std::size_t i = 0; i < fields.size(); ++i) {
      const bool is_number = !fields[i].empty() && fields[i].find_first_not_of("0123456789+-.eE") == std::string::npos;
      columns[headings[i]].push_back(is_number ? test::point_number(fields[i]) : std::nan(""));
    }
  }
  return columns;
}

// Correct digits of an estimate: -log10 of the relative error, at most 15 (absolute where the truth is 0).
inline double correct_digits(double estimate, double truth) {
  const double error = truth == 0 ? std::abs(estimate) : std::abs(estimate - truth) / std::abs(truth);
  return error == 0 ? 15 : std::min(15.0, -std::log10(error));
}

}  // namespace eyelevel::test
