// SPDX-License-Identifier: Apache-2.0
// Reads the stored waveforms of tests/data/waveforms (see README.md there) and their truth. Tests run in the root of
// the repository. Only for these files: int8 codes, format 1 of .npy.
#pragma once

#include <boost/json.hpp>

#include <cstdint>
#include <fstream>
#include <iterator>
#include <optional>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "core/disc/analysis.hpp"
#include "core/signal/waveform.hpp"

namespace eyelevel::support {

struct StoredEye {
  signal::Waveform wave;
  boost::json::object document;

  const boost::json::object& truth() const { return document.at("truth").as_object(); }
  double number(const char* key) const { return truth().at(key).to_number<double>(); }
  disc::AnalysisOptions options() const {
    disc::AnalysisOptions options;
    if (!document.at("dark_v").is_null()) options.dark_v = document.at("dark_v").to_number<double>();
    return options;
  }
  // A tolerance that the case widens, or the usual one.
  double tolerance(const char* key, double usual) const {
    const auto* found = document.at("tol").as_object().if_contains(key);
    return found != nullptr ? found->to_number<double>() : usual;
  }
};

inline std::string stored_bytes(const std::string& name) {
  std::ifstream file("tests/data/waveforms/" + name, std::ios::binary);
  if (!file) throw std::runtime_error("tests/data/waveforms/" + name + " is missing");
  return {std::istreambuf_iterator<char>(file), {}};
}

inline StoredEye stored_eye(const std::string& name) {
  StoredEye eye;
  eye.document = boost::json::parse(stored_bytes(name + ".json")).as_object();
  const std::string npy = stored_bytes(name + ".npy");
  const auto header = static_cast<std::size_t>(static_cast<unsigned char>(npy.at(8))) +
                      256 * static_cast<std::size_t>(static_cast<unsigned char>(npy.at(9)));
  std::vector<std::int8_t> codes;
  for (std::size_t i = 10 + header; i < npy.size(); ++i) codes.push_back(static_cast<std::int8_t>(npy[i]));
  eye.wave.codes = std::move(codes);
  eye.wave.rate_hz = eye.document.at("rate_hz").to_number<double>();
  eye.wave.scale_v = eye.document.at("scale_v").to_number<double>();
  eye.wave.offset_v = eye.document.at("offset_v").to_number<double>();
  return eye;
}

}  // namespace eyelevel::support
