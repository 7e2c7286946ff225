// SPDX-License-Identifier: Apache-2.0
// Runs benches and serves them until the process is told to stop; then every run closes, instruments safe, before this
// returns.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "core/service/api.hpp"
#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"

namespace boost::asio {
class io_context;
}

namespace eyelevel::program {

// `catch_up` is called now and then on the store thread (service/keeper.hpp). `serving` is called once with the
// address, when everything answers. Throws what is our own defect in a bench.
void serve(boost::asio::io_context& loop, service::House& house, const std::vector<service::BenchOwner*>& owners,
           service::Api& api, const std::string& listen, const std::function<void()>& catch_up,
           const std::function<void(const std::string& url)>& serving);

}  // namespace eyelevel::program
