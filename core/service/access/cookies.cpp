// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/cookies.hpp"

namespace eyelevel::service {

std::string cookie_of(const http::Request& request, std::string_view name) {
  auto rest = request.header("cookie");
  while (!rest.empty()) {
    auto pair = rest.substr(0, rest.find(';'));
    rest = pair.size() == rest.size() ? std::string_view() : rest.substr(pair.size() + 1);
    while (pair.starts_with(' ')) pair.remove_prefix(1);
    const auto equals = pair.find('=');
    if (equals != std::string_view::npos && pair.substr(0, equals) == name) return std::string(pair.substr(equals + 1));
  }
  return {};
}

}  // namespace eyelevel::service
