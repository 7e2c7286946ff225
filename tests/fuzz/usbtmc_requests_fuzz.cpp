// SPDX-License-Identifier: Apache-2.0
// Any bytes that a computer may send to a USBTMC interface: a transfer that is called good lies inside its bytes, and a
// class request is recognised only by its own type.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "instruments/transport/usbtmc/codec.hpp"

using namespace eyelevel::transport::usbtmc;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  const std::string_view bytes(exact.get(), size);
  if (fault_of_out_transfer(bytes).empty()) {
    const auto header = read_header(bytes);
    if (!header || header->tag == 0) std::abort();
    if (header->msg_id == static_cast<std::uint8_t>(MsgId::dev_dep_msg_out)) {
      // Written again it is the same, but for alignment and reserved bytes.
      const auto message = bytes.substr(header_bytes, header->transfer_size);
      if (message.size() != header->transfer_size) std::abort();
      std::string again;
      append_message_out(again, header->tag, message, (header->attributes & eom_bit) != 0);
      if (!fault_of_out_transfer(again).empty() || again.substr(header_bytes, message.size()) != message) std::abort();
    }
  }
  if (size >= 4) {
    const Setup setup{data[0], data[1], data[2], data[3], 64};
    const auto request = request_of(setup);
    if (request && setup_of(*request, 0, 0).request_type != setup.request_type) std::abort();
  }
  return 0;
}
