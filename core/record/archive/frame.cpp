// SPDX-License-Identifier: Apache-2.0
#include "core/record/archive/frame.hpp"

#include <fmt/format.h>
#include <boost/crc.hpp>

#include "core/record/journal/json_text.hpp"

namespace eyelevel::record {

namespace {

using base::Error;
using base::ErrorCode;

// An event of a run with its sequence and parts; a chunk has 1 MiB before it is compressed.
constexpr std::size_t text_bytes_max = std::size_t{64} << 20;
constexpr std::size_t bytes_max = std::size_t{2} << 20;
constexpr std::size_t checksum_digits = 8;

constexpr const char* cut_advice = "nothing of it was taken in; copy it again from where it was exported";

// Up to the line feed, which is taken; nothing when the text ends before one comes, or it is longer than any line is.
std::optional<std::string> line_of(std::istream& in) {
  std::string line;
  for (int c = in.get(); c != std::istream::traits_type::eof(); c = in.get()) {
    if (c == '\n') return line;
    line += static_cast<char>(c);
    if (line.size() > text_bytes_max) break;
  }
  return std::nullopt;
}

}  // namespace

std::string checksum_of(std::string_view text, std::string_view bytes) {
  boost::crc_32_type crc;
  crc.process_bytes(text.data(), text.size());
  crc.process_bytes(bytes.data(), bytes.size());
  return fmt::format("{:08x}", crc.checksum());
}

void FrameWriter::put(std::string_view json) {
  out_ << checksum_of(json) << ' ' << json << '\n';
  if (!out_) throw Error(ErrorCode::bad_input, "the archive cannot be written", "is the disk full?");
}

void FrameWriter::put(boost::json::object json, std::string_view bytes) {
  json["bytes"] = bytes.size();
  const std::string text = text_of(json);
  out_ << checksum_of(text, bytes) << ' ' << text << '\n' << bytes << '\n';
  if (!out_) throw Error(ErrorCode::bad_input, "the archive cannot be written", "is the disk full?");
}

bool FrameReader::is_over() { return in_.peek() == std::istream::traits_type::eof(); }

Error FrameReader::wrong(const std::string& what, const std::string& advice) const {
  Error error(ErrorCode::bad_input, what, advice);
  error.within(fmt::format("{}:{}", name_, line_));
  return error;
}

Frame FrameReader::next() {
  ++line_;
  const auto line = line_of(in_);
  if (!line) throw wrong("the archive is cut: it ends here, before its last line", cut_advice);
  Frame frame;
  frame.line = line_;
  const bool has_form = line->size() > checksum_digits + 1 && (*line)[checksum_digits] == ' ';
  if (!has_form) throw wrong("the archive is damaged: this is no line of one", cut_advice);
  frame.text = line->substr(checksum_digits + 1);
  // A damaged length must not be believed: the line's own text is read first, and then held against the checksum.
  std::optional<std::uint64_t> length;
  try {
    auto value = parse_json(frame.text, "this line");
    if (!value.is_object()) throw Error(ErrorCode::bad_input, "it is no mapping");
    frame.json = std::move(value.get_object());
    if (const auto* bytes = frame.json.if_contains("bytes")) length = bytes->to_number<std::uint64_t>();
  } catch (const std::exception&) {
    throw wrong("the archive is damaged: this line cannot be read", cut_advice);
  }
  if (length && *length > bytes_max) throw wrong("the archive is damaged: no piece has that many bytes", cut_advice);
  if (length) {
    frame.bytes.resize(*length);
    in_.read(frame.bytes.data(), static_cast<std::streamsize>(*length));
    if (!in_ || in_.get() != '\n') throw wrong("the archive is cut or damaged in the bytes of this line", cut_advice);
  }
  if (checksum_of(frame.text, frame.bytes) != line->substr(0, checksum_digits))
    throw wrong("the archive is damaged: the checksum of this line is another one", cut_advice);
  return frame;
}

}  // namespace eyelevel::record
