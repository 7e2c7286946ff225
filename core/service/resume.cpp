// SPDX-License-Identifier: Apache-2.0
#include "core/service/resume.hpp"

#include <fmt/format.h>

#include <variant>

#include "core/base/error.hpp"

namespace eyelevel::service {

namespace {

[[noreturn]] void refuse(std::string why, std::string advice) {
  throw base::Error(base::ErrorCode::bad_input, std::move(why), std::move(advice));
}

}  // namespace

Resumed resumed(record::Store& store, const std::string& run) {
  const auto record = record::read_run(store, run);
  Resumed found{.run = record.summary.id, .begun = record.begun, .reached = {}};
  if (record.summary.ended == "finished")
    refuse(fmt::format("run {} finished, nothing is left of it", found.run), "start a new run");
  bool is_reached = false;
  for (const event::Event& event : store.events(found.run, record::Samples::none))
    if (const auto* reached = std::get_if<event::Reached>(&event.body)) {
      found.reached = *reached;
      is_reached = true;
    }
  if (!is_reached) refuse(fmt::format("run {} came to no step that says `resume here`", found.run), "start a new run");
  return found;
}

void require_same(const sequence::Sequence& sequence, const Resumed& resumed) {
  bool is_same = sequence.source == resumed.begun.source && sequence.parts.size() == resumed.begun.parts.size();
  for (std::size_t i = 0; is_same && i < sequence.parts.size(); ++i)
    is_same = sequence.parts[i].source == resumed.begun.parts[i].source;
  if (!is_same)
    refuse(fmt::format("{} is not the sequence that run {} was made with", sequence.file, resumed.run),
           "restore that one (`eyelevel export` has it), or start a new run");
}

}  // namespace eyelevel::service
