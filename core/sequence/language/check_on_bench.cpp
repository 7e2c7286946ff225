// SPDX-License-Identifier: Apache-2.0
// The declaration is in check.hpp.
#include <fmt/format.h>

#include <functional>

#include "core/bench/bench_file.hpp"
#include "core/sequence/language/check.hpp"
#include "core/sequence/runner/action.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

void check_role(const RoleNeed& need, const bench::BenchFile& bench, yaml::Mistakes& mistakes) {
  const yaml::Mark at{need.line, need.column};
  const bench::InstrumentEntry* entry = bench.find(need.role);
  if (!entry) {
    if (!need.required) return;
    std::vector<std::string> known;
    known.reserve(bench.instruments.size());
    for (const auto& i : bench.instruments) known.push_back(i.role);
    const auto near = yaml::nearest(need.role, known);
    mistakes.add(at, fmt::format("the bench '{}' has no '{}'", bench.name, need.role),
                 near ? fmt::format("did you mean '{}'?", *near) : fmt::format("it has {}", yaml::one_of(known)));
  } else if (entry->kind != need.kind) {
    mistakes.add(at,
                 fmt::format("'{}' is to be of kind {}, but on the bench '{}' it is of kind {}", need.role, need.kind,
                             bench.name, entry->kind),
                 "name an instrument of that kind in the bench file");
  }
}

void check_channel(const SignalPlace& signal, const bench::BenchFile& bench, yaml::Mistakes& mistakes) {
  const bench::InstrumentEntry* entry = bench.find(signal.role);
  if (!entry || signal.kind != "oscilloscope" || entry->kind != signal.kind || entry->channel(signal.channel)) return;
  mistakes.add({signal.line, signal.column},
               fmt::format("the bench '{}' says nothing about {} channel {}", bench.name, signal.role, signal.channel),
               fmt::format("name channel {} in the bench file with its probe", signal.channel));
}

// Every step that does something, with those inside others.
void each_step(const std::vector<Step>& steps, const std::function<void(const Step&)>& check) {
  for (const Step& step : steps) {
    if (step.action) check(step);
    each_step(step.inside, check);
    each_step(step.otherwise, check);
  }
}

void each_step(const Sequence& sequence, const std::function<void(const Step&)>& check) {
  for (const std::vector<Step>* part : {&sequence.opening, &sequence.steps, &sequence.closing}) each_step(*part, check);
}

}  // namespace

void check_on_bench(const Sequence& sequence, const bench::BenchFile& bench, yaml::Mistakes& mistakes) {
  for (const RoleNeed& need : sequence.roles) check_role(need, bench, mistakes);
  for (const SignalPlace& signal : sequence.signals) check_channel(signal, bench, mistakes);
  each_step(sequence, [&](const Step& step) { step.action->check_on_bench(step, bench, mistakes); });
}

void check_on_model(const Sequence& sequence, const bench::ModelSheet* model, yaml::Mistakes& mistakes) {
  each_step(sequence, [&](const Step& step) { step.action->check_on_model(step, model, mistakes); });
}

}  // namespace eyelevel::sequence
