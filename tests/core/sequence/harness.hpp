// SPDX-License-Identifier: Apache-2.0
// Checks and runs a sequence on the fake bench in simulated time.
#pragma once

#include <fmt/format.h>
#include <catch2/catch.hpp>

#include <memory>
#include <optional>
#include <string>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/sequence/language/check.hpp"
#include "core/sequence/runner/run.hpp"
#include "core/sequence/verb/ready.hpp"
#include "core/yaml/load.hpp"
#include "tests/support/fake_bench.hpp"
#include "tests/support/fake_outputs.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

const sequence::Language& language();

// The bench of the tests: half-widths that are easy to see in a budget.
bench::BenchFile bench_file();
// The same with one instrument of each of the other kinds.
bench::BenchFile wide_bench_file();
// A sequence on them around steps, with `tone`, `rail` and `edges` set up; nothing in closing but `closing`.
std::string around_outputs(const std::string& steps,
                           const std::string& closing = "  - make safe: every instrument\n    within: 10 s\n");
bench::ModelSheet model_sheet();

// A sequence around steps (each line of them indented by two), with signals `rf` and `dc` set up.
std::string around(const std::string& steps, const std::string& limits = "  level: 1.20 V ± 10 %\n");

inline const std::string capture_step =
    "  - capture: rf\n    each: 500 us long\n    keep: 16 settled\n    try: at most 40\n    within: 60 s\n    name it: "
    "pressed\n";

sequence::Sequence checked(const std::string& text);
// All mistakes of a text, one line each.
std::string mistakes_of(const std::string& text, const sequence::CheckSetting& setting = {});
// Those of a text without mistakes, held against a bench.
std::string mistakes_on(const bench::BenchFile& bench, const std::string& text);

struct FakeBench {
  Simulated sim;
  FakeUnit unit;
  FakeCalls calls;
  FakeOperator person{*sim.timeline};
  MemoryJournal journal;
  CarefulListener listener{journal};
  bench::BenchFile file = bench_file();
  std::optional<bench::ModelSheet> model = model_sheet();
  std::function<double(double)> meter_v = [](double) { return 2.5; };
  std::function<void(FakeScope&)> prepare_scope = [](FakeScope&) {};
  bool scope_is_safe = false, scope_is_closed = false, meter_is_safe = false;
  bool has_meter = true;
  FakeOutputs outputs;
  std::optional<event::BenchProof> proof;
  std::uint64_t seed = 1;

  // In harness.cpp, so that not each test compiles the fakes anew.
  FakeBench();
  FakeBench(const FakeBench&) = delete;
  FakeBench& operator=(const FakeBench&) = delete;
  ~FakeBench();

  task<std::unique_ptr<bench::Instrument>> open(const bench::InstrumentEntry& entry);
  sequence::RunSetting setting();
  sequence::RunResult run(const sequence::Sequence& sequence);
  sequence::RunResult run(const std::string& text);
  // Stopped by request at a moment of the timeline.
  sequence::RunResult run_stopped_at(base::Duration when, const std::string& text);

 private:
  template <class Fake>
  std::unique_ptr<bench::Instrument> other(const bench::InstrumentEntry& entry);
};

}  // namespace eyelevel::test
