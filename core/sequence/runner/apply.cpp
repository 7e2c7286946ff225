// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/apply.hpp"

namespace eyelevel::sequence {

task<std::vector<bench::SettingTaken>> apply(RunContext& context, const SignalPlace& signal, const SignalSetUp& how) {
  const base::Duration within = context.call_limit();
  if (how.channel) co_return co_await context.oscilloscope(signal.role).set_up(signal.channel, *how.channel, within);
  if (how.dc) co_return co_await context.multimeter(signal.role).set_up_dc(*how.dc, within);
  if (how.frequency) co_return co_await context.counter(signal.role).set_up_frequency(*how.frequency, within);
  if (how.output) co_return co_await context.power_supply(signal.role).set_up(signal.channel, *how.output, within);
  if (how.given) co_return co_await context.function_generator(signal.role).set_up(signal.channel, *how.given, within);
  co_return std::vector<bench::SettingTaken>();
}

}  // namespace eyelevel::sequence
