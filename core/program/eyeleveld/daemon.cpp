// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/daemon.hpp"

#include <algorithm>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <csignal>
#include <set>

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/program/eyeleveld/supervisor.hpp"
#include "core/program/failure.hpp"
#include "core/program/output.hpp"
#include "core/service/keeper.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace {

bool is_cancelled(const std::exception_ptr& error) {
  try {
    std::rethrow_exception(error);
  } catch (const boost::system::system_error& one) {
    return one.code() == asio::error::operation_aborted;
  } catch (...) {
    return false;
  }
}

// Everything that runs beside; each tells its end here.
struct Beside {
  std::size_t running = 0;
  std::exception_ptr failure;
  base::Gong ended;

  auto told_end() {
    ++running;
    return [this](const std::exception_ptr& error) {
      --running;
      if (error && !failure && !is_cancelled(error)) failure = error;
      ended.strike();
    };
  }
};

task<> heard(asio::signal_set& signals, bool& is_stopped, base::Gong& gong) {
  boost::system::error_code cancelled;
  co_await signals.async_wait(asio::redirect_error(asio::use_awaitable, cancelled));
  is_stopped = true;
  gong.strike();
}

// A signal, or a failure of what runs beside.
task<> until_stopped(Beside& beside) {
  const auto executor = co_await asio::this_coro::executor;
  asio::signal_set signals(executor, SIGINT, SIGTERM);
  bool is_stopped = false;
  asio::co_spawn(executor, heard(signals, is_stopped, beside.ended), beside.told_end());
  while (!is_stopped && !beside.failure) co_await beside.ended.wait();
  signals.cancel();
  while (!is_stopped) co_await beside.ended.wait();
}

// systemd's reload, and anybody's kill -HUP.
task<> reload_when_told(std::function<void()> reload, std::string url) {
  asio::signal_set signals(co_await asio::this_coro::executor, SIGHUP);
  for (;;) {
    co_await signals.async_wait(asio::use_awaitable);
    tell_reloading();
    try {
      reload();
      put(stderr, "eyeleveld: the bench files were read anew; each bench takes its own when it is idle\n");
    } catch (const base::Error&) {
      told_failure("eyeleveld", std::current_exception());
    }
    tell_ready(url);
  }
}

task<> run_all(service::House& house, const std::vector<service::BenchOwner*>& owners, service::http::Server& server,
               service::Api& api, const Plan& plan, const Heard& heard) {
  const auto executor = co_await asio::this_coro::executor;
  Beside beside;
  std::set<service::BenchOwner*> at_work;
  const auto set_to_work = [&] {
    for (auto* owner : owners)
      if (at_work.insert(owner).second)
        asio::co_spawn(executor, owner->work(), [&, owner, told = beside.told_end()](const std::exception_ptr& error) {
          heard.ended(*owner);
          told(error);
        });
  };
  const auto reload = [&] {
    heard.reload();
    set_to_work();
  };
  api.reloads_by(reload);
  asio::cancellation_signal stop_serving, stop_keeping;
  asio::co_spawn(executor, server.serve(), asio::bind_cancellation_slot(stop_serving.slot(), beside.told_end()));
  asio::cancellation_signal stop_reloading;
  asio::co_spawn(executor, reload_when_told(reload, server.url()),
                 asio::bind_cancellation_slot(stop_reloading.slot(), beside.told_end()));
  asio::cancellation_signal stop_living;
  asio::co_spawn(executor, tell_alive(house.timeline),
                 asio::bind_cancellation_slot(stop_living.slot(), beside.told_end()));
  asio::cancellation_signal stop_scheduling;
  const auto wake = [&owners](const std::string& bench) {
    for (auto* owner : owners)
      if (owner->bench().name == bench) owner->wake();
  };
  asio::co_spawn(executor, service::keep_schedules(house, plan.schedules, wake),
                 asio::bind_cancellation_slot(stop_scheduling.slot(), beside.told_end()));
  asio::co_spawn(executor, service::keep(house, owners, plan.catch_up),
                 asio::bind_cancellation_slot(stop_keeping.slot(), beside.told_end()));
  set_to_work();
  asio::cancellation_signal stop_retaining;
  asio::co_spawn(executor, plan.retention.keep(),
                 asio::bind_cancellation_slot(stop_retaining.slot(), beside.told_end()));
  co_await until_stopped(beside);
  tell_stopping();
  plan.retention.stop();
  stop_retaining.emit(asio::cancellation_type::terminal);
  stop_reloading.emit(asio::cancellation_type::terminal);
  stop_scheduling.emit(asio::cancellation_type::terminal);
  // Viewers see how the runs close.
  for (auto* owner : owners) owner->stop();
  const auto is_over = [](const service::BenchOwner* owner) { return owner->is_over(); };
  while (!std::all_of(owners.begin(), owners.end(), is_over) && !beside.failure) co_await beside.ended.wait();
  stop_living.emit(asio::cancellation_type::terminal);
  stop_keeping.emit(asio::cancellation_type::terminal);
  stop_serving.emit(asio::cancellation_type::terminal);
  while (beside.running > 0) co_await beside.ended.wait();
  if (beside.failure) std::rethrow_exception(beside.failure);
}

// There is no password to begin with: whoever has the machine makes the first user.
void require_somebody(const service::Access& access, const std::string& listen) {
  if (access.policy().is_open || access.has_administrator()) return;
  throw base::Error(base::ErrorCode::bad_input,
                    "--listen " + listen + ": there is no user yet who may administer, so nobody could sign in",
                    "make one: eyeleveld user add NAME --rights look,operate,change,administer");
}

}  // namespace

void serve(asio::io_context& loop, service::House& house, const std::vector<service::BenchOwner*>& owners,
           service::Api& api, service::Access& access, const Plan& plan, const Heard& heard) {
  const Address& address = plan.address;
  service::http::Server server(
      loop.get_executor(), house.timeline, address.listen,
      {.answer = [&api](const service::http::Request& request) { return api.answer(request); },
       .feed = [&api](const service::http::Request& request,
                      service::http::Response& refused) { return api.feed(request, refused); }},
      {}, address.tls);
  api.serves_loopback(server.is_loopback());
  access.set_policy({.is_open = server.is_loopback() && !address.requires_login,
                     .is_secure = address.tls.has_value(),
                     .port = server.port()});
  require_somebody(access, address.listen);
  heard.serving(server.url());
  tell_ready(server.url());
  house.timeline.run(run_all(house, owners, server, api, plan, heard));
}

}  // namespace eyelevel::program
