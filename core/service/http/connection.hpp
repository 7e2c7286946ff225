// SPDX-License-Identifier: Apache-2.0
// One connection of the server: requests in, answers out, or a feed until the client is gone; plainly or over TLS.
#pragma once

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>

#include "core/base/timeline.hpp"
#include "core/service/http/rate.hpp"
#include "core/service/http/server.hpp"

namespace eyelevel::service::http {

// What all connections share; outlives each of them.
struct Serving {
  base::Timeline& timeline;
  Handlers handlers;
  Limits limits;
  boost::asio::ssl::context* tls = nullptr;  // null: plainly
  mutable Rate rate;
};

// Until either side ends it. What it throws is that the client is gone.
task<> speak(boost::asio::ip::tcp::socket socket, const Serving& serving);

}  // namespace eyelevel::service::http
