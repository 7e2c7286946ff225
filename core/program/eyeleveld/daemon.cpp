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

#include "core/base/error.hpp"
#include "core/base/gong.hpp"
#include "core/service/http/server.hpp"
#include "core/service/keeper.hpp"

namespace eyelevel::program {
namespace asio = boost::asio;
namespace {

// Everything that runs beside; each tells its end here.
struct Beside {
  std::size_t running = 0;
  std::exception_ptr failure;
  base::Gong ended;

  auto told_end() {
    ++running;
    return [this](const std::exception_ptr& error) {
      --running;
      if (error && !failure) failure = error;
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

task<> kept_until_cancelled(service::House& house, const std::vector<service::BenchOwner*>& owners,
                            std::function<void()> catch_up) {
  try {
    co_await service::keep(house, owners, std::move(catch_up));
  } catch (const boost::system::system_error& error) {
    if (error.code() != asio::error::operation_aborted) throw;
  }
}

task<> run_all(service::House& house, const std::vector<service::BenchOwner*>& owners, service::http::Server& server,
               const std::function<void()>& catch_up) {
  const auto executor = co_await asio::this_coro::executor;
  Beside beside;
  asio::cancellation_signal stop_serving, stop_keeping;
  asio::co_spawn(executor, server.serve(), asio::bind_cancellation_slot(stop_serving.slot(), beside.told_end()));
  asio::co_spawn(executor, kept_until_cancelled(house, owners, catch_up),
                 asio::bind_cancellation_slot(stop_keeping.slot(), beside.told_end()));
  for (auto* owner : owners) asio::co_spawn(executor, owner->work(), beside.told_end());
  co_await until_stopped(beside);
  // Viewers see how the runs close.
  for (auto* owner : owners) owner->stop();
  const auto is_over = [](const service::BenchOwner* owner) { return owner->is_over(); };
  while (!std::all_of(owners.begin(), owners.end(), is_over) && !beside.failure) co_await beside.ended.wait();
  stop_keeping.emit(asio::cancellation_type::terminal);
  stop_serving.emit(asio::cancellation_type::terminal);
  while (beside.running > 0) co_await beside.ended.wait();
  if (beside.failure) std::rethrow_exception(beside.failure);
}

}  // namespace

void serve(asio::io_context& loop, service::House& house, const std::vector<service::BenchOwner*>& owners,
           service::Api& api, const std::string& listen, const std::function<void()>& catch_up,
           const std::function<void(const std::string& url)>& serving) {
  service::http::Server server(
      loop.get_executor(), house.timeline, listen,
      {.answer = [&api](const service::http::Request& request) { return api.answer(request); },
       .feed = [&api](const service::http::Request& request,
                      service::http::Response& refused) { return api.feed(request, refused); }});
  if (!server.is_loopback())
    throw base::Error(base::ErrorCode::bad_input,
                      "--listen " + listen +
                          ": without users and passwords, which this version does not know yet, only this "
                          "machine is served",
                      "use an address of this machine itself: 127.0.0.1 or [::1]");
  serving(server.url());
  house.timeline.run(run_all(house, owners, server, catch_up));
}

}  // namespace eyelevel::program
