// SPDX-License-Identifier: Apache-2.0
// What all benches of a daemon share, handed in by core/program. References must outlive everything here. One loop.
#pragma once

#include <chrono>
#include <filesystem>
#include <string>

#include "core/base/timeline.hpp"
#include "core/record/journal/store_thread.hpp"
#include "core/record/store/jobs.hpp"
#include "core/record/store/store.hpp"
#include "core/sequence/language/verb.hpp"

namespace eyelevel::service {

// How long a job is a daemon's that is not heard of any more (record::Lease), and how often that is renewed.
inline constexpr std::chrono::seconds lease_length{30};
inline constexpr std::chrono::seconds lease_renewed_every{10};

struct House {
  base::Timeline& timeline;
  const sequence::Language& language;
  std::filesystem::path sequences;  // no sequence is read from anywhere else
  std::filesystem::path models;
  record::Store& store;
  record::Jobs& jobs;
  record::StoreThread& store_thread;
};

}  // namespace eyelevel::service
