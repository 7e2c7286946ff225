// SPDX-License-Identifier: Apache-2.0
// Transports that break one thing each, against the trial.
#include "instruments/plugin/link_trial.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/transport/error.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;

namespace {

// One instrument, that answers a question once and keeps to the contract, but for what it was told to break.
struct Habits {
  bool is_there = true;
  bool answers = true;
  bool counts = false;     // its answers differ
  bool speaks_up = false;  // a read ends though nothing was asked
  bool clear_works = true;
  bool answers_once = true;  // one question, one answer
};

class Made final : public transport::Link {
 public:
  Made(Habits habits, int& count, base::Timeline& timeline) : habits_(habits), count_(count), timeline_(timeline) {}
  const std::string& resource_name() const override { return name_; }
  task<> write(std::string_view message) override {
    CHECK(message == "*IDN?");
    ++left_;
    co_return;
  }
  task<> read(transport::Buffer& into, std::size_t) override {
    into.clear();
    if ((left_ == 0 && !habits_.speaks_up) || !habits_.answers) co_await timeline_.sleep(1h);
    if (habits_.answers_once) left_ = 0;
    into = habits_.counts ? std::to_string(++count_) : "made up";
  }
  task<> clear() override {
    if (habits_.clear_works) left_ = 0;
    co_return;
  }
  void close() noexcept override {}

 private:
  std::string name_ = "PLUGIN::made::up";
  Habits habits_;
  int& count_;
  base::Timeline& timeline_;
  int left_ = 0;
};

struct Bench {
  int count = 0;
  plugin::Plugin::Link link;

  explicit Bench(Habits habits) {
    link.name = "made";
    link.open = [this, habits](transport::ResourceName name, base::Timeline& timeline) {
      return open(habits, std::move(name), timeline);
    };
  }
  task<std::unique_ptr<transport::Link>> open(Habits habits, transport::ResourceName name, base::Timeline& timeline) {
    CHECK(name.device == "up");
    if (!habits.is_there) transport::fail(base::ErrorCode::no_connection, "PLUGIN::made::up", "nothing is there", "");
    co_return std::make_unique<Made>(habits, count, timeline);
  }
  plugin::LinkTrial trial(const std::string& example = "resource: PLUGIN::made::up\n") const {
    return {link, example, 300ms};
  }
};

template <class Act>
std::string wrong(Act act) {
  try {
    act();
  } catch (const base::Error& error) {
    return error.record().message;
  }
  return "nothing";
}

}  // namespace

TEST_CASE("link trial: a link that keeps its contract has nothing wrong", "[plugin]") {
  const Bench bench({});
  CHECK(bench.trial().why_closed().empty());
  CHECK(wrong([&] { bench.trial().answers(); }) == "nothing");
  CHECK(wrong([&] { bench.trial().waits(); }) == "nothing");
  CHECK(wrong([&] { bench.trial().clears(); }) == "nothing");
}

TEST_CASE("link trial: what is not there need only say so", "[plugin]") {
  CHECK_THAT(Bench({.is_there = false}).trial().why_closed(), Contains("nothing is there"));
}

TEST_CASE("link trial: the example must name the transport's own resource", "[plugin]") {
  const Bench bench({});
  CHECK_THAT(wrong([&] { bench.trial("- up\n"); }), Contains("is not `resource: PLUGIN::made::ADDRESS`"));
  CHECK_THAT(wrong([&] { bench.trial("resource: PLUGIN::other::up\n"); }),
             Contains("names PLUGIN::other::up, not PLUGIN::made::ADDRESS"));
}

TEST_CASE("link trial: silence, and answers that differ, are told", "[plugin]") {
  CHECK_THAT(wrong([&] { Bench({.answers = false}).trial().answers(); }), Contains("no answer to *IDN? within 0.3 s"));
  CHECK_THAT(wrong([&] { Bench({.counts = true}).trial().answers(); }), Contains("'1' first, then '2'"));
}

TEST_CASE("link trial: a read that ends without an answer is told", "[plugin]") {
  CHECK_THAT(wrong([&] { Bench({.speaks_up = true}).trial().waits(); }),
             Contains("nothing was asked, but 'made up' was read"));
}

TEST_CASE("link trial: an answer that outlives a clear, or comes twice, is told", "[plugin]") {
  CHECK_THAT(wrong([&] { Bench({.clear_works = false}).trial().clears(); }),
             Contains("the answer was cleared away, but 'made up' was read"));
  CHECK_THAT(wrong([&] { Bench({.answers_once = false}).trial().clears(); }),
             Contains("one question was asked, but 'made up' was read"));
}
