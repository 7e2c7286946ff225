// SPDX-License-Identifier: Apache-2.0
// Any bytes as a stream of RPC records, in pieces and at once: the same records; each of them as a call and as a reply.
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>
#include <vector>

#include "instruments/transport/vxi11/codec_rpc.hpp"

using namespace eyelevel::transport::vxi11;

namespace {

struct Followed {
  std::vector<std::string> records;
  std::string fault;
};

Followed follow(std::string_view stream, std::size_t step, std::size_t most) {
  Followed followed;
  RecordMarks marks(most);
  marks.begin();
  std::string open;
  for (std::size_t at = 0; at < stream.size();) {
    const auto next = stream.substr(at, step);
    if (marks.needs_mark()) {
      const auto taken = marks.mark(next);
      if (taken == 0 || taken > next.size()) std::abort();
      at += taken;
    } else {
      const std::size_t count = std::min(next.size(), marks.fragment_left());
      if (count == 0) std::abort();
      open += next.substr(0, count);
      marks.took(count);
      at += count;
    }
    followed.fault = marks.fault();
    if (!followed.fault.empty() || open.size() > most) break;
    if (marks.record_ended()) {
      followed.records.push_back(std::move(open));
      open.clear();
      marks.begin();
    }
  }
  if (open.size() > most) std::abort();
  return followed;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 2) return 0;
  const std::size_t step = 1 + data[0] % 16U;
  const std::size_t most = data[1] * 16U;
  const std::size_t count = size - 2;
  const auto exact = std::make_unique<char[]>(count);
  for (std::size_t i = 0; i < count; ++i) exact[i] = static_cast<char>(data[i + 2]);
  const std::string_view bytes(exact.get(), count);
  const auto at_once = follow(bytes, count + 1, most);
  const auto piecewise = follow(bytes, step, most);
  if (at_once.records != piecewise.records || at_once.fault != piecewise.fault) std::abort();
  for (const auto& record : at_once.records) {
    const auto call = read_call(record);
    if (call.is_call && call.right_rpc) {
      Mapping mapping;
      read_mapping(call.arguments, mapping);
    }
    const auto reply = read_reply_head(record);
    if (reply.need == 0 && reply.fault.empty() && reply.head_bytes > record.size()) std::abort();
    if (reply.need > most_auth_bytes + 32) std::abort();
  }
  return 0;
}
