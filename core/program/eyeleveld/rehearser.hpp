// SPDX-License-Identifier: Apache-2.0
// The simulator, handed to the daemon's API: what `eyelevel rehearse --json` does, with the files of two folders.
#pragma once

#include <filesystem>

#include "core/sequence/language/verb.hpp"
#include "core/service/rehearsals.hpp"

namespace eyelevel::program {

// `language` must outlive it.
service::Rehearser rehearser(std::filesystem::path sequences, std::filesystem::path models,
                             const sequence::Language& language);

}  // namespace eyelevel::program
