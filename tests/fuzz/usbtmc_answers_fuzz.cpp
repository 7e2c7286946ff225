// SPDX-License-Identifier: Apache-2.0
// Any bytes that an instrument may send: headers of answers, answers of class requests, capabilities, interrupt
// packets. What was read and is written again reads the same.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "instruments/transport/usbtmc/codec.hpp"

using namespace eyelevel::transport::usbtmc;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size < 2) return 0;
  const auto exact = std::make_unique<char[]>(size - 2);
  for (std::size_t i = 2; i < size; ++i) exact[i - 2] = static_cast<char>(data[i]);
  const std::string_view bytes(exact.get(), size - 2);
  const Asked asked{data[1], 1000};
  if (const auto header = read_header(bytes)) {
    const auto check = check_in_header(*header, asked);
    if ((check.fault == InFault::none) != check.text.empty()) std::abort();
    if (check.fault == InFault::none && (header->tag != asked.tag || header->transfer_size > 1000)) std::abort();
  }
  constexpr Request requests[] = {Request::initiate_abort_bulk_out, Request::check_abort_bulk_out_status,
                                  Request::initiate_abort_bulk_in,  Request::check_abort_bulk_in_status,
                                  Request::initiate_clear,          Request::check_clear_status,
                                  Request::read_status_byte,        Request::ren_control};
  const Request request = requests[data[0] % 8];
  if (const auto answer = read_answer(request, bytes)) {
    auto again = read_answer(request, answer_bytes(request, *answer));
    if (!again || !again->complete) std::abort();
    again->complete = answer->complete;
    if (*again != *answer) std::abort();
  }
  if (const auto capabilities = read_capabilities(bytes))
    if (read_capabilities(capabilities_answer(*capabilities)) != capabilities) std::abort();
  const auto packet = read_interrupt(bytes);
  if (packet.kind == InterruptPacket::Kind::status_answer &&
      read_interrupt(status_answer_packet(packet.tag, packet.status_byte)) != packet)
    std::abort();
  return 0;
}
