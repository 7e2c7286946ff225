// SPDX-License-Identifier: Apache-2.0
#include "core/service/keeper.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Daemon;
namespace asio = boost::asio;

namespace {

bool any(const record::Job&) { return true; }

// Keeps beside `script`, until that has ended.
void run_kept(Daemon& daemon, const std::function<task<>(Daemon&)>& script) {
  daemon.run([&script](Daemon& d) -> task<> {
    asio::cancellation_signal stop;
    bool has_ended = false;
    const std::vector<service::BenchOwner*> owners{d.owner.get()};
    asio::co_spawn(co_await asio::this_coro::executor, service::keep(d.house, owners, [] {}),
                   asio::bind_cancellation_slot(stop.slot(), [&](const std::exception_ptr&) { has_ended = true; }));
    co_await script(d);
    stop.emit(asio::cancellation_type::terminal);
    while (!has_ended) co_await d.house.timeline.sleep(std::chrono::milliseconds(1));
  });
}

std::unique_ptr<record::Jobs> another_daemon(const Daemon& daemon) {
  return record::open_jobs((daemon.folder.path() / "records.db").string(), "another daemon");
}

}  // namespace

TEST_CASE("keeper: a job stays its daemon's however long it takes", "[service]") {
  Daemon daemon;
  run_kept(daemon, [](Daemon& d) -> task<> {
    const auto job = co_await d.add_job(Daemon::asking);
    co_await d.until_asked();
    co_await d.house.timeline.sleep(4 * service::lease_length);
    CHECK(another_daemon(d)->give_back(d.house.timeline.utc()) == 0);
    CHECK(d.jobs->find(job).state == JobState::under_way);
    CHECK(d.jobs->find(job).owner == "this daemon");
  });
}

TEST_CASE("keeper: the job of a daemon that is silent is done by a bench that fits it, once the lease is over",
          "[service]") {
  Daemon daemon;
  run_kept(daemon, [](Daemon& d) -> task<> {
    const auto others = another_daemon(d);
    record::Job asked;
    asked.sequence = Daemon::quiet;
    const auto job = others->add(asked);
    const auto begin = d.house.timeline.now();
    REQUIRE(others->take("another bench", any, {d.house.timeline.utc(), service::lease_length}));
    co_await d.until_job(job, JobState::done);
    CHECK(d.house.timeline.now() - begin > service::lease_length);
    CHECK(d.jobs->find(job).bench == "test bench");
    CHECK(d.jobs->is_left("another bench"));
  });
}

TEST_CASE("keeper: a job that another daemon adds without a word is found", "[service]") {
  Daemon daemon;
  run_kept(daemon, [](Daemon& d) -> task<> {
    co_await d.until("idle");
    record::Job asked;
    asked.bench = d.bench.file.name;
    asked.sequence = Daemon::quiet;
    const auto job = another_daemon(d)->add(asked);
    co_await d.until_job(job, JobState::done);
  });
}
