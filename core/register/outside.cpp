// SPDX-License-Identifier: Apache-2.0
#include "core/register/outside.hpp"

#include <fmt/format.h>

#include <cmath>

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

std::string why_impossible(const OutsideReading& reading, std::string_view unit) {
  if (reading.unit != unit) return fmt::format("the reading is in '{}', but '{}' is declared", reading.unit, unit);
  if (!std::isfinite(reading.value)) return "the reading is no number";
  if (!(std::isfinite(reading.standard_uncertainty) && reading.standard_uncertainty >= 0))
    return fmt::format("the standard uncertainty is {}", reading.standard_uncertainty);
  if (!(reading.degrees_of_freedom >= 1))
    return fmt::format("there are {} degrees of freedom", reading.degrees_of_freedom);
  if (reading.count < 1) return fmt::format("it was made of {} observations", reading.count);
  return {};
}

std::string outside_unit(quantity::Dimension dimension) {
  std::string unit = quantity::unit_of(dimension);
  return unit.empty() ? "1" : unit;
}

}  // namespace eyelevel::registers
