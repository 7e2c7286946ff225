// SPDX-License-Identifier: Apache-2.0
// Keeps what a daemon has of a store that others share: renews the leases of its jobs, gives back those of daemons that
// are silent, brings in what the store could not take while it was out of reach, and looks whether another daemon has
// added a job.
#pragma once

#include <functional>
#include <vector>

#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"

namespace eyelevel::service {

// Until it is cancelled. One for each daemon, on its loop. `catch_up` is called on the store thread.
task<> keep(House& house, const std::vector<BenchOwner*>& owners, std::function<void()> catch_up);

}  // namespace eyelevel::service
