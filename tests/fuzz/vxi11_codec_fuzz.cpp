// SPDX-License-Identifier: Apache-2.0
// Any bytes as arguments and results of each VXI-11 procedure: what reads without fault writes the same bytes again, as
// far as they count.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <memory>
#include <string>

#include "instruments/transport/vxi11/codec.hpp"

using namespace eyelevel::transport::vxi11;

namespace {

template <class Structure>
void there_and_back(std::string_view bytes) {
  Structure first;
  XdrReader reader(bytes);
  read(reader, first);
  if (reader.at() > bytes.size()) std::abort();
  if (!reader.good()) return;
  std::string written;
  append(written, first);
  Structure second;
  XdrReader again(written);
  read(again, second);
  std::string twice;
  append(twice, second);
  if (!again.good() || !again.rest().empty() || written != twice) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const auto exact = std::make_unique<char[]>(size);
  for (std::size_t i = 0; i < size; ++i) exact[i] = static_cast<char>(data[i]);
  const std::string_view bytes(exact.get(), size);
  there_and_back<CreateLink>(bytes);
  there_and_back<CreatedLink>(bytes);
  there_and_back<Written>(bytes);
  there_and_back<Read>(bytes);
  there_and_back<ReadHead>(bytes);
  there_and_back<Generic>(bytes);
  there_and_back<StatusByte>(bytes);
  there_and_back<Lock>(bytes);
  there_and_back<EnableRequests>(bytes);
  there_and_back<InterruptChannel>(bytes);
  Write call;
  XdrReader reader(bytes);
  read(reader, call, 1000);
  if (reader.good() && (call.data.size() > 1000 || reader.at() > size)) std::abort();
  XdrReader link(bytes);
  read_link(link);
  return 0;
}
