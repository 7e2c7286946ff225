// SPDX-License-Identifier: Apache-2.0
// Asks a running daemon over its API (core/service/README.md): one connection for each request, and one for a feed. All
// errors name the daemon. Throws Error(no_connection) when it cannot be reached, Error(time_out) when it does not
// answer, Error(connection_lost) when it goes away, Error(bad_input) when its certificate is another one. One loop.
#pragma once

#include <boost/json/object.hpp>
#include <boost/json/value.hpp>

#include <functional>
#include <string>
#include <string_view>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/daemon_client/place.hpp"

namespace eyelevel::program {

struct DaemonAnswer {
  int status = 0;
  boost::json::value body;  // null where there is none
  bool is_done() const { return status < 400; }
};

class DaemonClient {
 public:
  DaemonClient(base::Timeline& timeline, DaemonPlace place) : timeline_(timeline), place_(std::move(place)) {}

  const std::string& url() const { return place_.url; }

  // `target`: path and query, encoded. What the daemon refuses is an answer, too.
  task<DaemonAnswer> ask(std::string method, std::string target, boost::json::object body = {});
  // The body of what was done; what was refused is thrown as refusal() says it.
  task<boost::json::value> done(std::string method, std::string target, boost::json::object body = {});
  // What the daemon said against it, as an error: Error(bad_input) for what we asked wrongly.
  base::Error refusal(const DaemonAnswer& answer) const;

  // Text messages of a feed, until `take` says that it was the last one (true), or the daemon ends it (false).
  using Take = std::function<task<bool>(boost::json::object message)>;
  task<bool> follow(std::string target, Take take);

 private:
  base::Timeline& timeline_;
  DaemonPlace place_;
};

// As a segment of a path, or as a value in a query (RFC 3986, 2.1).
std::string encoded(std::string_view text);

}  // namespace eyelevel::program
