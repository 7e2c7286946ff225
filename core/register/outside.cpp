// SPDX-License-Identifier: Apache-2.0
#include "core/register/outside.hpp"

namespace eyelevel::registers {

std::string_view name_of(PartKind kind) {
  switch (kind) {
    case PartKind::verb: return "verb";
    case PartKind::measure: return "measure";
    case PartKind::driver: return "driver";
    case PartKind::transport: return "transport";
  }
  return "verb";
}

std::string_view name_of(ResultKind kind) {
  switch (kind) {
    case ResultKind::reading: return "reading";
    case ResultKind::waveform: return "waveform";
    case ResultKind::captures: return "captures";
  }
  return "reading";
}

}  // namespace eyelevel::registers
