// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/link.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "instruments/scpi/block.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport {

task<> Link::query(std::string_view message, Buffer& into, std::size_t most) {
  try {
    co_await write(message);
  } catch (...) {
    into.clear();  // what is in it belongs to an earlier query
    throw;
  }
  co_await read(into, most);
}

task<> Link::trigger() { return write("*TRG"); }

task<std::uint8_t> Link::status_byte() {
  co_await write("*STB?");
  Buffer answer;
  co_await read(answer, 64);
  int value = -1;
  const auto [end, error] = std::from_chars(answer.data(), answer.data() + answer.size(), value);
  if (error != std::errc() || end != answer.data() + answer.size() || value < 0 || value > 255) {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = resource_name();
    record.message = "*STB? was not answered by a status byte";
    record.sent = "*STB?";
    record.received = answer;
    record.expected = "a number from 0 to 255";
    record.advice = "ask *IDN? and look whether the instrument speaks IEEE 488.2";
    throw TransportError(std::move(record));
  }
  co_return static_cast<std::uint8_t>(value);
}

task<> Link::wait_for_service() { refuse("service requests; ask *STB? or *ESR? from time to time"); }

task<> Link::lock(std::string /*key*/, base::Duration /*wait*/) {
  refuse("locks; see to it that nobody else uses the instrument");
}

task<> Link::unlock() { refuse("locks"); }

task<> Link::remote_local(RemoteLocal /*what*/) { refuse("remote and local; use the instrument's own key"); }

task<std::string> Link::why_silent() { co_return std::string(); }

std::string Link::answers_to_others(std::size_t count) {
  if (count == 0) return {};
  return fmt::format("{} answer{} to other messages came and {} passed over", count, count == 1 ? "" : "s",
                     count == 1 ? "was" : "were");
}

void Link::tell_progress(std::string_view so_far) const {
  if (!progress_) return;
  constexpr std::size_t most_end_bytes = 2;  // CR NL
  const auto header = scpi::read_block_header(so_far);
  const std::size_t block = header.header_bytes + header.data_bytes;
  const bool is_block = header.state == scpi::BlockHeaderState::complete && so_far.size() <= block + most_end_bytes;
  progress_(is_block ? std::min(so_far.size(), block) : so_far.size(), is_block ? block : 0);
}

void Link::refuse(std::string_view what) const {
  fail(base::ErrorCode::bad_input, resource_name(), fmt::format("this kind of connection has no {}", what),
       "connect the instrument by HiSLIP, VXI-11 or USB");
}

}  // namespace eyelevel::transport
