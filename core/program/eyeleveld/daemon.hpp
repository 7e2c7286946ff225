// SPDX-License-Identifier: Apache-2.0
// Runs benches and serves them until the process is told to stop; then every run closes, instruments safe, before this
// returns.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "core/service/api.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"
#include "core/service/http/server.hpp"
#include "core/service/retention.hpp"
#include "core/service/schedule.hpp"

namespace boost::asio {
class io_context;
}

namespace eyelevel::program {

struct Address {
  std::string listen;
  std::optional<service::http::Tls> tls;
  bool requires_login = false;  // at a loopback address, too; elsewhere always
};

// What is known when it begins.
struct Plan {
  Address address;
  std::vector<service::Schedule> schedules;
  std::function<void()> catch_up;  // called now and then on the store thread (service/keeper.hpp)
  service::Retention& retention;
};

struct Heard {
  std::function<void(const std::string& url)> serving;
  // On SIGHUP and when the API asks; `owners` may then hold others. What it throws is told, and nothing was changed.
  std::function<void()> reload;
  std::function<void(const service::BenchOwner&)> ended;
};

// `serving` is called once with the address, when everything answers. Throws what is our own defect in a bench.
void serve(boost::asio::io_context& loop, service::House& house, const std::vector<service::BenchOwner*>& owners,
           service::Api& api, service::Access& access, const Plan& plan, const Heard& heard);

}  // namespace eyelevel::program
