// SPDX-License-Identifier: Apache-2.0
// The target of a request (RFC 9112, 3.2): path and query, decoded. Pure.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::service::http {

struct Target {
  std::string path;
  std::map<std::string, std::string, std::less<>> query;
};

// Empty when it is no origin-form, is not well encoded, or its path holds what no path of ours may: "..", ".", an empty
// segment in the middle, a control character.
std::optional<Target> read_target(std::string_view target);

// "/api/1/jobs/4" in its parts: api, 1, jobs, 4.
std::vector<std::string_view> segments(std::string_view path);

}  // namespace eyelevel::service::http
