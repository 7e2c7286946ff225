// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/reopen.hpp"

#include <fmt/format.h>

#include <vector>

#include "core/sequence/runner/apply.hpp"

namespace eyelevel::sequence {
namespace {

task<> greet_again(RunContext& context, OpenInstrument& open) {
  const std::string identity = co_await open.instrument->greet(context.call_limit());
  if (identity == open.identity) co_return;
  base::ErrorRecord record;
  record.code = base::ErrorCode::connection_lost;
  record.where = open.need.role;
  record.message = "after the connection was lost, another instrument answers";
  record.received = identity;
  record.expected = open.identity;
  record.advice = "look what is connected there now, and start again";
  throw base::Error(std::move(record));
}

task<> set_up_again(RunContext& context, const event::Place& place, const SignalPlace& signal, const SignalSetUp& how) {
  const std::vector<bench::SettingTaken> taken = co_await apply(context, signal, how);
  for (const bench::SettingTaken& t : taken)
    context.tell(event::Set{place, signal.role, t.setting, t.asked, t.read_back});
}

}  // namespace

task<> reopen(RunContext& context, const event::Place& place, const base::ErrorRecord& lost) {
  context.tell(event::Noted{
      place, fmt::format("connection lost ({}: {}); opened again, settings applied anew", lost.where, lost.message)});
  for (OpenInstrument& open : context.instruments())
    if (open.instrument) co_await greet_again(context, open);
  for (const SignalPlace& signal : context.sequence().signals)
    co_await set_up_again(context, place, signal, context.set_up_of(signal.name));
}

}  // namespace eyelevel::sequence
