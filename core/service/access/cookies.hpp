// SPDX-License-Identifier: Apache-2.0
#pragma once

#include <string>
#include <string_view>

#include "core/service/http/message.hpp"

namespace eyelevel::service {

// The value of a cookie (RFC 6265, 4.2); empty when there is none.
std::string cookie_of(const http::Request& request, std::string_view name);

}  // namespace eyelevel::service
