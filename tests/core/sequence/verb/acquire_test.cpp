// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/acquire.hpp"

#include "tests/core/sequence/harness.hpp"

using namespace eyelevel;

namespace {

class EmptyScope final : public test::FakeScope {
 public:
  using FakeScope::FakeScope;
  task<signal::Waveform> capture(const bench::Acquisition&, base::Duration) override { co_return signal::Waveform{}; }
};

// Says that its record began long before it was asked for one.
class UndatedScope final : public test::FakeScope {
 public:
  using FakeScope::FakeScope;
  task<signal::Waveform> capture(const bench::Acquisition& a, base::Duration within) override {
    auto wave = co_await FakeScope::capture(a, within);
    wave.start_s = -1;
    co_return wave;
  }
};

struct Around {
  test::FakeBench bench;
  sequence::Sequence sequence = test::checked(test::around("  - note: hello\n"));
  sequence::RunContext context{
      {*bench.sim.timeline, bench.person, bench.journal, {}, "run-1", 1, sequence, bench.file, nullptr}};

  template <class Scope>
  void put() {
    auto& open = context.instruments().emplace_back();
    open.need = *sequence.role("scope");
    open.instrument = std::make_unique<Scope>(*bench.sim.timeline, bench.calls, bench.unit);
  }
  sequence::Acquired acquire() {
    sequence::Acquired got;
    bench.sim.run([](Around& self, sequence::Acquired& out) -> task<> {
      out = co_await sequence::acquire(self.context, *self.sequence.signal("rf"), 500e-6);
    }(*this, got));
    return got;
  }
};

}  // namespace

TEST_CASE("acquire: at the rate of the need, dated by the instrument", "[sequence]") {
  Around a;
  a.put<test::FakeScope>();
  CHECK(sequence::rate_hz(a.context, *a.sequence.signal("rf")) == Approx(20e6));
  const auto got = a.acquire();
  CHECK(got.waveform->size() == 10000);
  CHECK(got.from_s == got.waveform->start_s);
  CHECK(got.until_s - got.from_s == Approx(500e-6));
}

TEST_CASE("acquire: a date outside the call is not believed", "[sequence]") {
  Around a;
  a.put<UndatedScope>();
  CHECK(a.acquire().from_s == Approx(0));
}

TEST_CASE("acquire: a record without samples is a bad answer", "[sequence]") {
  Around a;
  a.put<EmptyScope>();
  CHECK_THROWS_WITH(a.acquire(), Catch::Contains("scope gave a capture of 'rf' without samples"));
}
