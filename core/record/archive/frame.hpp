// SPDX-License-Identifier: Apache-2.0
// The lines of an archive (archive.hpp): each carries a checksum, so that damage is found where it is, and the last one
// says that it is the last. A line is the CRC-32 of what follows (ISO/HDLC, RFC 1952 clause 8, eight hexadecimal
// digits), a space, one JSON text, a line feed; where the JSON is a mapping with `bytes`, that many bytes and a line
// feed follow, which the checksum covers too.
#pragma once

#include <boost/json/object.hpp>

#include <cstdint>
#include <istream>
#include <optional>
#include <ostream>
#include <string>
#include <string_view>

#include "core/base/error.hpp"

namespace eyelevel::record {

// "cbf43926" of "123456789".
std::string checksum_of(std::string_view text, std::string_view bytes = {});

class FrameWriter {
 public:
  explicit FrameWriter(std::ostream& out) : out_(out) {}
  // `json` on one line. Throws Error(bad_input) when it cannot be written.
  void put(std::string_view json);
  void put(boost::json::object json, std::string_view bytes);

 private:
  std::ostream& out_;
};

struct Frame {
  std::size_t line = 0;  // from 1, frames counted
  std::string text;      // the JSON as it stands there
  boost::json::object json;
  std::string bytes;
};

class FrameReader {
 public:
  // `name` is told in messages.
  FrameReader(std::istream& in, std::string name) : in_(in), name_(std::move(name)) {}
  // The next line. Throws Error(bad_input) when there is none, or it is cut or damaged.
  Frame next();
  // Whether the text ends here.
  bool is_over();
  // Error(bad_input) about the line that was read last.
  base::Error wrong(const std::string& what, const std::string& advice) const;

 private:
  std::istream& in_;
  std::string name_;
  std::size_t line_ = 0;
};

}  // namespace eyelevel::record
