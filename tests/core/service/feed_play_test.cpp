// SPDX-License-Identifier: Apache-2.0
#include "core/service/feed_play.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/json.hpp>

#include "tests/core/service/harness.hpp"

using namespace eyelevel;
using record::JobState;
using test::Collected;
using test::Daemon;
namespace json = boost::json;

namespace {

// A viewer for as long as this lives. What it uses lives until its coroutine has ended.
class Viewer {
 public:
  Viewer(Daemon& daemon, service::Position from) {
    boost::asio::co_spawn(
        daemon.bench.sim.loop, service::play_feed(daemon.house, *daemon.owner, std::move(from), *out),
        boost::asio::bind_cancellation_slot(gone->slot(), [kept = out, until = gone](const std::exception_ptr&) {}));
  }
  Viewer(const Viewer&) = delete;
  Viewer& operator=(const Viewer&) = delete;
  ~Viewer() { gone->emit(boost::asio::cancellation_type::terminal); }

  std::vector<std::string> events() const {
    std::vector<std::string> list;
    for (const auto& one : out->of("event"))
      list.push_back(fmt::format("{}/{}", std::string(one.at("event").at("run").as_string()),
                                 one.at("event").at("number").as_int64()));
    return list;
  }
  std::shared_ptr<Collected> out = std::make_shared<Collected>();
  std::shared_ptr<boost::asio::cancellation_signal> gone = std::make_shared<boost::asio::cancellation_signal>();
};

std::vector<std::string> in_the_record(Daemon& daemon, std::int64_t after = 0) {
  std::vector<std::string> list;
  for (const auto& run : daemon.store->runs({}))
    for (const auto& event : daemon.store->events(run.id, record::Samples::none))
      if (event.number > after) list.push_back(fmt::format("{}/{}", run.id, event.number));
  return list;
}

task<> until_all(Viewer& viewer, std::size_t number) {
  while (viewer.events().size() < number) co_await viewer.out->came.wait();
}

}  // namespace

TEST_CASE("feed: a viewer sees the bench first, then every event of the run in order and none twice", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    Viewer viewer(d, {});
    const auto job = co_await d.add_job(Daemon::quiet);
    co_await d.until_job(job, JobState::done);
    const auto all = in_the_record(d);
    co_await until_all(viewer, all.size());
    CHECK(viewer.events() == all);
    CHECK(json::parse(viewer.out->all.front()).at("kind") == "bench");
  });
}

TEST_CASE("feed: who comes again with a position gets what was missed, of a run that the daemon has not seen, too",
          "[service]") {
  Daemon daemon;
  std::string run;
  daemon.run([&run](Daemon& d) -> task<> {
    const auto job = co_await d.add_job(Daemon::quiet);
    co_await d.until_job(job, JobState::done);
    run = d.jobs->find(job).run;
    Viewer viewer(d, {run, 3});
    const auto rest = in_the_record(d, 3);
    co_await until_all(viewer, rest.size());
    CHECK(viewer.events() == rest);
  });
  // Another daemon on the same record, which has told nothing yet.
  daemon.owner = std::make_unique<service::BenchOwner>(
      daemon.house, service::BenchSetting{.bench = daemon.bench.file, .open = [&](const bench::InstrumentEntry& e) {
                                            return daemon.bench.open(e);
                                          }});
  daemon.run([&run](Daemon& d) -> task<> {
    Viewer viewer(d, {run, 2});
    const auto rest = in_the_record(d, 2);
    co_await until_all(viewer, rest.size());
    CHECK(viewer.events() == rest);
  });
}

TEST_CASE("feed: runs that began and ended while a viewer was away are named, the newest is told", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    std::vector<std::string> runs;
    for (int i = 0; i < 3; ++i) {
      const auto job = co_await d.add_job(Daemon::quiet);
      co_await d.until_job(job, JobState::done);
      runs.push_back(d.jobs->find(job).run);
    }
    const auto last_of_first = d.store->events(runs[0], record::Samples::none).back().number;
    const auto of_last = d.store->events(runs[2], record::Samples::none).size();
    Viewer viewer(d, {runs[0], last_of_first});
    co_await until_all(viewer, of_last);
    const auto missed = viewer.out->of("missed");
    REQUIRE(missed.size() == 1);
    CHECK(missed[0].at("runs").as_array() == json::array{runs[1]});
    CHECK(viewer.events().front() == runs[2] + "/1");
  });
}

TEST_CASE("feed: a run that the record does not know is forgotten, and the present one is told", "[service]") {
  Daemon daemon;
  daemon.run([](Daemon& d) -> task<> {
    const auto job = co_await d.add_job(Daemon::quiet);
    co_await d.until_job(job, JobState::done);
    Viewer viewer(d, {"1999-01-01-1", 17});
    const auto all = in_the_record(d);
    co_await until_all(viewer, all.size());
    CHECK(viewer.events() == all);
  });
}
