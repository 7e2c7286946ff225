// SPDX-License-Identifier: Apache-2.0
// What the store knows of a bench: its last proof that ran to its end.
#pragma once

#include <string>

#include "core/event/event.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::record {

// Benches are told apart by the name in their bench file. A proof older than `lasts_s` seconds at `now` is marked old;
// one that was stopped proves nothing, not even that the one before it no longer holds.
event::BenchProof last_proof(Store& store, const std::string& bench, base::UtcTime now, double lasts_s);

}  // namespace eyelevel::record
