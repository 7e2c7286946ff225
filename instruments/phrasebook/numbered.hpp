// SPDX-License-Identifier: Apache-2.0
// Headers that may carry a number at their <n>: what the drivers of instruments with channels and outputs share.
#pragma once

#include <span>
#include <string>

#include "instruments/scpi/message/program_builder.hpp"

namespace eyelevel::phrasebook {

inline scpi::ProgramBuilder& command(scpi::ProgramBuilder& into, const std::string& header, int number) {
  const bool has_place = header.find('<') != std::string::npos;
  return into.command(header, std::span<const int>(&number, has_place ? 1 : 0));
}

inline scpi::ProgramBuilder& query(scpi::ProgramBuilder& into, const std::string& header, int number) {
  const bool has_place = header.find('<') != std::string::npos;
  return into.query(header, std::span<const int>(&number, has_place ? 1 : 0));
}

}  // namespace eyelevel::phrasebook
