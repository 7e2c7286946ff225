// SPDX-License-Identifier: Apache-2.0
// What a browser could be misled into is refused before any route sees it.
#pragma once

#include <optional>

#include "core/service/http/message.hpp"
#include "core/service/http/problem.hpp"

namespace eyelevel::service {

// At a loopback address only names of this machine are answered (a foreign name that leads here is DNS rebinding); what
// changes something, and every WebSocket, must not come from another site's page (Fetch Standard, Origin); a body is
// JSON, which no form of another site can send.
std::optional<http::Problem> refused(const http::Request& request, bool is_loopback);

// Headers of every answer: no framing, no sniffing, nothing loaded from elsewhere.
void add_page_guards(http::Response& response);

}  // namespace eyelevel::service
