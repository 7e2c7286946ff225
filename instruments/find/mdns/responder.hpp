// SPDX-License-Identifier: Apache-2.0
// Announces the instruments of a simulated bench by multicast DNS, as those on a real network announce themselves
// (RFC 6762, RFC 6763): probes for its names, takes others where they are taken, announces, answers, says goodbye. It
// shares port 5353 with whatever else of this computer speaks multicast DNS. What it says is in zone.hpp. One thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/find/interfaces.hpp"
#include "instruments/find/mdns/group_socket.hpp"
#include "instruments/find/mdns/zone.hpp"

namespace eyelevel::find::mdns {

class Responder {
 public:
  // Opens its sockets. Throws TransportError when no interface can be used, std::invalid_argument as Zone does.
  Responder(const boost::asio::any_io_executor& executor, base::Timeline& timeline,
            std::vector<Announcement> announcements, std::vector<Interface> interfaces,
            std::uint16_t port = usual_port);
  Responder(const Responder&) = delete;
  Responder& operator=(const Responder&) = delete;
  ~Responder();

  // Until it is cancelled; then it has said goodbye. It must not outlive the responder.
  task<> run();
  // Whether the names are its own by now and the first announcement is out.
  bool announced() const;
  // Under the names that they really have.
  const std::vector<Announcement>& announcements() const;
  // What kept an interface from being served.
  const std::vector<std::string>& obstacles() const;

 private:
  class Work;
  std::unique_ptr<Work> work_;
};

}  // namespace eyelevel::find::mdns
