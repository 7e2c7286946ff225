// SPDX-License-Identifier: Apache-2.0
// Any bytes as a response: every way of reading ends in a value or in Error(bad_answer).
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>

#include "core/base/error.hpp"
#include "instruments/scpi/error_queue.hpp"
#include "instruments/scpi/message/response_reader.hpp"

using namespace eyelevel;
using namespace eyelevel::scpi;

namespace {

template <class F>
void try_reading(std::string_view message, F read) {
  try {
    ResponseReader reader(message);
    read(reader);
    while (!reader.at_end()) {
      if (reader.at_unit_end()) reader.next_unit();
      read(reader);
    }
  } catch (const base::Error& error) {
    if (error.record().code != base::ErrorCode::bad_answer) std::abort();
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  const std::string_view message(exact.get(), size);
  try_reading(message, [](ResponseReader& r) { r.number(); });
  try_reading(message, [](ResponseReader& r) { r.string(); });
  try_reading(message, [](ResponseReader& r) { r.character(); });
  try_reading(message, [&](ResponseReader& r) {
    const auto block = r.block();
    if (block.data() < message.data() || block.data() + block.size() > message.data() + message.size()) std::abort();
  });
  try_reading(message, [](ResponseReader& r) { r.rest(); });
  try {
    parse_queued_error(message);
  } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): refusing is right, only crashing is not
  }
  return 0;
}
