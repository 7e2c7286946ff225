// SPDX-License-Identifier: Apache-2.0
// A whole response message from a carrier that tells its end (END of VXI-11, DataEND, EOM): what of it is terminator,
// and whether its blocks are as long as they say.
#pragma once

#include <fmt/format.h>

#include <cstddef>
#include <string>
#include <string_view>

#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::detail {

struct AnswerEnd {
  std::size_t message_bytes = 0;  // without NL or CR NL
  std::string fault;              // not empty: this is no response message
};

inline AnswerEnd answer_end(std::string_view answer, std::size_t most_bytes) {
  AnswerEnd end;
  std::size_t at = 0;
  // NL inside, outside of blocks, is let pass: END alone ends the message.
  while (at < answer.size()) {
    socket::Framer framer(socket::Direction::response_to_end, most_bytes);
    const auto found = framer.scan(answer.substr(at));
    if (found.missing > 1) end.fault = fmt::format("a block ends {} bytes too early", found.missing - 1);
    if (!found.fault.empty()) end.fault = found.fault;
    if (!end.fault.empty()) return end;
    if (!found.complete) {
      const bool ended_by_nl = framer.is_indefinite() && answer.ends_with('\n');
      end.message_bytes = answer.size() - (ended_by_nl ? 1 : 0);
      return end;
    }
    end.message_bytes = at + found.message_bytes;
    at += found.consumed;
  }
  return end;
}

}  // namespace eyelevel::transport::detail
