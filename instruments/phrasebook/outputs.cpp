// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/outputs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/phrasebook/numbered.hpp"

namespace eyelevel::phrasebook {

using scpi::ProgramBuilder;
using scpi::ResponseReader;

Outputs::Outputs(Conversation& talk, std::string output, std::string tripped, std::vector<bench::OutputEntry> entries)
    : talk_(talk), output_(std::move(output)), tripped_(std::move(tripped)), entries_(std::move(entries)) {}

const bench::OutputEntry& Outputs::entry(int output) const {
  const auto it = std::find_if(entries_.begin(), entries_.end(), [&](const auto& one) { return one.number == output; });
  if (it == entries_.end())
    talk_.refuse(base::ErrorCode::bad_input, fmt::format("the bench file says nothing about output {}", output),
                 "name the output in the bench file with what may be asked of it");
  return *it;
}

void Outputs::require_set_up(int output) const {
  if (!ready_.contains(output))
    talk_.refuse(base::ErrorCode::bad_input, fmt::format("output {} was not set up before it is switched on", output),
                 "set the output up first");
}

task<> Outputs::prove(int output, bool on, Deadline deadline) {
  ProgramBuilder ask;
  query(ask, output_, output);
  if (!tripped_.empty()) query(ask, tripped_, output);
  bool is_on = !on;
  bool tripped = false;
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        is_on = answer.boolean();
        if (tripped_.empty()) return;
        answer.next_unit();
        tripped = answer.boolean();
      },
      deadline);
  if (on && tripped)
    talk_.refuse(base::ErrorCode::instrument_error,
                 fmt::format("the protection of output {} has switched it off", output),
                 "look at what hangs on the output; is its voltage set below the protection?");
  if (is_on == on) co_return;
  talk_.not_taken(fmt::format("output {}", output), on ? "on" : "off", is_on ? "on" : "off",
                  on ? "is the output locked at the instrument?" : "switch the output off by hand");
}

task<> Outputs::make_safe(Deadline deadline) {
  ProgramBuilder tell;
  for (const auto& one : entries_) command(tell, output_, one.number).boolean(false);
  if (!tell.empty()) co_await talk_.tell(tell, deadline);
  // Whatever errors an earlier fault left behind do not keep it from being safe.
  co_await talk_.make_safe(deadline);
  for (const auto& one : entries_) co_await prove(one.number, false, deadline);
}

}  // namespace eyelevel::phrasebook
