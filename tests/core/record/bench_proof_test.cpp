// SPDX-License-Identifier: Apache-2.0
#include "core/record/bench_proof.hpp"

#include <catch2/catch.hpp>

#include "tests/core/record/sample_run.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using metrology::Judgement;

namespace {

constexpr double month_s = 30 * 86400.0;

// A run on a bench; the events are a quarter of a second apart, from 2030-01-07 08:00 on.
std::string run(record::Store& store, const std::string& bench, const std::string& proves, const std::string& ended,
                std::optional<Judgement> judgement) {
  const std::string id = store.reserve_run(test::sample_event("", 0, event::Noted{}).utc);
  event::Begun begun;
  begun.sequence = "bench-proof";
  begun.bench = bench;
  begun.proves = proves;
  const event::Event events[] = {test::sample_event(id, 1, begun),
                                 test::sample_event(id, 2, event::Closed{ended, judgement})};
  store.write(id, events);
  return id;
}

base::UtcTime later(std::chrono::seconds by) { return test::sample_event("", 2, event::Noted{}).utc + by; }

}  // namespace

TEST_CASE("bench proof: a bench without one has never been proven; other runs and other benches prove nothing",
          "[record]") {
  const auto store = record::open_memory_store();
  run(*store, "by the window", "", "finished", Judgement::pass);
  run(*store, "by the door", "bench", "finished", Judgement::pass);
  CHECK(record::last_proof(*store, "by the window", later(1h), month_s).run.empty());
}

TEST_CASE("bench proof: the newest that ran to its end counts, passed or not", "[record]") {
  const auto store = record::open_memory_store();
  run(*store, "b", "bench", "finished", Judgement::pass);
  const std::string failed = run(*store, "b", "bench", "finished", Judgement::fail);
  run(*store, "b", "bench", "stopped", std::nullopt);
  const auto proof = record::last_proof(*store, "b", later(1h), month_s);
  CHECK(proof.run == failed);
  CHECK(proof.judgement == Judgement::fail);
  CHECK(proof.at_utc == "2030-01-07T08:00:00.500Z");
}

TEST_CASE("bench proof: grows old after the days that its bench allows", "[record]") {
  const auto store = record::open_memory_store();
  run(*store, "b", "bench", "finished", Judgement::pass);
  CHECK_FALSE(record::last_proof(*store, "b", later(30 * 24h), month_s).is_old);
  CHECK(record::last_proof(*store, "b", later(30 * 24h + 1s), month_s).is_old);
}

TEST_CASE("bench proof: a store file knows it too", "[record]") {
  const auto file = record::open_file_store(":memory:");
  const std::string id = run(*file, "b", "bench", "finished", Judgement::pass);
  run(*file, "b", "", "finished", Judgement::fail);
  CHECK(record::last_proof(*file, "b", later(1h), month_s).run == id);
}
