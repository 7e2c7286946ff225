// SPDX-License-Identifier: Apache-2.0
// The certificate with which the daemon serves: one that it was given, or one of its own making in the state folder.
#pragma once

#include <filesystem>
#include <string>

#include "core/base/timeline.hpp"
#include "core/service/http/server.hpp"

namespace eyelevel::program {

// Throws Error(bad_input) when a file cannot be read.
service::http::Tls given_tls(const std::string& certificate, const std::string& key);

// Made on the first start, and again a month before it ends; for this machine's names and the address it serves at.
service::http::Tls own_tls(const std::filesystem::path& state, const std::string& listen, base::UtcTime now);

}  // namespace eyelevel::program
