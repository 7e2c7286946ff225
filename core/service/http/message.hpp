// SPDX-License-Identifier: Apache-2.0
// A request and its answer as the routes see them, without the library that carries them.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace eyelevel::service::http {

struct Request {
  std::string method;                                       // "GET"
  std::string path;                                         // decoded, begins with '/'
  std::map<std::string, std::string, std::less<>> query;    // decoded; of equal names the last
  std::map<std::string, std::string, std::less<>> headers;  // names in small letters
  std::string body;
  std::string peer;  // address of the client

  std::string_view header(std::string_view name) const {
    const auto found = headers.find(name);
    return found == headers.end() ? std::string_view() : found->second;
  }
};

struct Response {
  int status = 200;
  std::string type = "application/json";
  std::string body;
  std::vector<std::pair<std::string, std::string>> headers;
};

}  // namespace eyelevel::service::http
