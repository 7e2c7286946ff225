// SPDX-License-Identifier: Apache-2.0
// The feed of one bench to one viewer: what the bench looks like, whenever that changes, that its jobs have changed,
// and every event after the position that the viewer has, without a gap, from the store where the feed does not hold it
// any more. A slow viewer falls behind and catches up; nobody waits for it.
#pragma once

#include "core/service/bench_owner.hpp"
#include "core/service/house.hpp"
#include "core/service/http/server.hpp"

namespace eyelevel::service {

task<> play_feed(House& house, BenchOwner& owner, Position position, http::Outlet& outlet);

}  // namespace eyelevel::service
