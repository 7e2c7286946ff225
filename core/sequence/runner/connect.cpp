// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/connect.hpp"

#include <fmt/format.h>

#include "core/base/deadline.hpp"
#include "core/bench/bench_file.hpp"
#include "core/quantity/text.hpp"

namespace eyelevel::sequence {

namespace {

constexpr base::Duration greet_limit = std::chrono::seconds(10);
constexpr base::Duration open_limit = std::chrono::seconds(30);  // connection and greeting together

std::string place_of(const Sequence& sequence, const RoleNeed& need) {
  return fmt::format("{}:{}:{}: {}", sequence.file, need.line, need.column, need.role);
}

void require(bool serves, const RoleNeed& need, std::string_view what, double least, double has,
             quantity::Dimension unit) {
  if (serves) return;
  base::ErrorRecord record;
  record.code = base::ErrorCode::not_found;
  record.message = fmt::format("the sequence needs {} of at least {}, this {} has {}; nothing was set", what,
                               quantity::print({least, unit}), need.kind, quantity::print({has, unit}));
  record.expected = fmt::format("at least {}", quantity::print({least, unit}));
  record.advice = fmt::format("use another {}, or a sequence that needs less", need.kind);
  throw base::Error(record);
}

void require_ability(const OpenInstrument& open) {
  const RoleNeed& need = open.need;
  if (!open.ability) return;
  const double points = static_cast<double>(open.ability->points_max);
  if (need.rate_hz)
    require(open.ability->rate_hz_max >= *need.rate_hz, need, "a sample rate", *need.rate_hz, open.ability->rate_hz_max,
            quantity::sample_rate);
  if (need.points) require(points >= *need.points, need, "a memory", *need.points, points, quantity::samples);
}

// Opens and greets; the instrument is in `open` as soon as it is open, so that it is closed whatever follows.
task<> open_one(OpenInstrument& open, const Open& how) {
  open.instrument = co_await how(*open.entry);
  open.identity = co_await open.instrument->greet(greet_limit);
  if (auto* scope = dynamic_cast<bench::Oscilloscope*>(open.instrument.get()))
    open.ability = co_await scope->ability(greet_limit);
  require_ability(open);
}

const bench::InstrumentEntry* entry_for(const RunContext& context, const RoleNeed& need, std::string& why_not) {
  const bench::InstrumentEntry* entry = context.bench().find(need.role);
  if (!entry) {
    why_not = fmt::format("the bench '{}' has no {}", context.bench().name, need.role);
  } else if (entry->kind != need.kind) {
    why_not = fmt::format("{} of the bench '{}' is of kind {}, not {}", need.role, context.bench().name, entry->kind,
                          need.kind);
    entry = nullptr;
  }
  return entry;
}

}  // namespace

task<> connect(RunContext& context, const Open& how, std::vector<event::InstrumentUsed>& used) {
  std::vector<OpenInstrument>& all = context.instruments();
  const Sequence& sequence = context.sequence();
  for (const RoleNeed& need : sequence.roles) {
    OpenInstrument& open = all.emplace_back();
    open.need = need;
    open.entry = entry_for(context, need, open.why_absent);
    std::optional<base::Error> refused;
    if (!open.entry) {
      refused =
          base::Error(base::ErrorCode::not_found, open.why_absent, "name it in the bench file, or use another bench");
    } else {
      try {
        if (!co_await base::finished_within(context.timeline(), open_limit, open_one(open, how)))
          refused = base::Error(
              base::ErrorCode::no_connection,
              fmt::format("{} was not reached within {:g} s", open.entry->resource, base::to_seconds(open_limit)),
              "is it on, and is its resource name in the bench file right?");
      } catch (const base::Error& e) {
        refused = e;
      }
    }
    if (refused && need.required) {
      refused->within(place_of(sequence, need));
      throw base::Error(*refused);
    }
    if (refused) {
      open.why_absent = refused->record().message;
      if (open.instrument) open.instrument->close();
      open.instrument.reset();
      context.tell(event::Noted{
          {.part = "opening", .verb = "connect", .text = need.role, .line = need.line, .column = need.column},
          fmt::format("goes on without {}: {}", need.role, open.why_absent)});
      continue;
    }
    used.push_back({need.role, need.kind, open.entry->resource, open.identity, open.entry->calibration_due});
    context.tell(event::Connected{used.back()});
  }
}

}  // namespace eyelevel::sequence
