// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/socket/codec.hpp"

#include <fmt/format.h>

#include "core/base/error.hpp"
#include "instruments/scpi/block.hpp"

namespace eyelevel::transport::socket {

void Framer::reset() {
  at_ = 0;
  before_ = ';';
  spaced_ = false;
  quote_ = '\0';
  after_block_ = false;
  indefinite_ = false;
}

// In a response a block is a whole element; in a program message white space after a header may come before it too.
bool Framer::element_may_begin_after(char c) const {
  if (c == ',') return true;
  if (direction_ != Direction::program) return c == ';';
  return spaced_;
}

// At a '#' that may begin a block. False: more bytes are needed, or found.fault is set.
bool Framer::step_over_block(std::string_view buffer, Found& found) {
  const auto header = scpi::read_block_header(buffer.substr(at_), most_bytes_);
  switch (header.state) {
    case scpi::BlockHeaderState::complete: {
      const std::size_t end = at_ + header.header_bytes + header.data_bytes;
      if (end > buffer.size()) {
        found.missing = end - buffer.size() + 1;
        return false;
      }
      at_ = end;
      before_ = '#';
      after_block_ = true;
      return true;
    }
    case scpi::BlockHeaderState::need_more: return false;
    case scpi::BlockHeaderState::too_large:
      found.fault = fmt::format("the block at byte {} announces {} bytes, more than the limit of {}", at_ + 1,
                                header.data_bytes, most_bytes_);
      return false;
    case scpi::BlockHeaderState::indefinite:
      if (direction_ == Direction::program) break;  // the parser refuses it
      indefinite_ = direction_ == Direction::response_to_end;
      if (indefinite_) return false;
      found.fault =
          fmt::format("the indefinite block (#0) at byte {} has no end that can be seen on a raw socket", at_ + 1);
      return false;
    case scpi::BlockHeaderState::bad: break;  // #H, #Q, #B or nonsense: text
  }
  before_ = '#';
  ++at_;
  return true;
}

Framer::Found Framer::scan(std::string_view buffer) {
  Found found;
  while (at_ < buffer.size()) {
    const char c = buffer[at_];
    if (c == '\n') {
      found.complete = true;
      found.consumed = at_ + 1;
      found.message_bytes =
          at_ > 0 && buffer[at_ - 1] == '\r' && !(after_block_ && before_ == '#' && !spaced_) ? at_ - 1 : at_;
      return found;
    }
    if (quote_ != '\0') {
      if (c == quote_) quote_ = '\0';
    } else if (c == '#' && element_may_begin_after(before_)) {
      if (!step_over_block(buffer, found)) break;
      spaced_ = false;
      continue;
    } else if (after_block_ && direction_ != Direction::program && before_ == '#' && c != ',' && c != ';' &&
               static_cast<unsigned char>(c) > 0x20) {
      found.fault = fmt::format("byte {} should end the block that came before it, but is \"{}\"", at_ + 1,
                                base::escaped(buffer.substr(at_, 1)));
      return found;
    } else if ((c == '"' || c == '\'') && direction_ == Direction::program) {
      quote_ = c;
    }
    if (static_cast<unsigned char>(c) <= 0x20) {
      spaced_ = true;
    } else {
      spaced_ = false;
      before_ = c;
      after_block_ = false;
    }
    ++at_;
  }
  if (found.fault.empty() && (buffer.size() > most_bytes_ || found.missing > most_bytes_ - buffer.size() + 1))
    found.fault = fmt::format("no end within the limit of {} bytes", most_bytes_);
  return found;
}

}  // namespace eyelevel::transport::socket
