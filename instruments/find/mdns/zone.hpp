// SPDX-License-Identifier: Apache-2.0
// What a multicast DNS responder says (RFC 6762, RFC 6763): records of the instruments that are announced, answers to
// queries, probes, announcements, goodbyes. No I/O. Small: it does not break ties between two that probe one name in
// the same second (RFC 6762, 8.2), and says nothing of records that do not exist (6.1).
#pragma once

#include <boost/asio/ip/address.hpp>

#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "instruments/find/dns/message.hpp"

namespace eyelevel::find::mdns {

struct Announcement {
  struct Offered {
    std::string type;  // "_hislip._tcp"
    std::uint16_t port = 0;
  };
  std::string instance;  // one name for all services of an instrument; 63 bytes at most
  std::string host;      // one label: "scope" is scope.local
  std::vector<Offered> services;
  std::vector<std::pair<std::string, std::string>> txt;  // in this order, after txtvers=1
  std::vector<boost::asio::ip::address> at;              // where it listens; none: at every address
};

using Addresses = std::vector<boost::asio::ip::address>;

class Zone {
 public:
  // Throws std::invalid_argument for an instance, host or TXT string that is too long.
  explicit Zone(std::vector<Announcement> announcements);

  // `here`: the addresses of the interface on which it is said. Nothing where nothing is announced or asked for.
  std::optional<dns::Message> probe(const Addresses& here) const;
  std::optional<dns::Message> announcement(const Addresses& here) const;
  std::optional<dns::Message> goodbye(const Addresses& here) const;
  // `legacy`: the asker is a plain DNS client (RFC 6762, 6.7).
  std::optional<dns::Message> answer(const dns::Message& query, const Addresses& here, bool legacy) const;

  // Somebody else has one of the names: it gets another one here ("scope (2)", "scope-2"; RFC 6762, 9). True if so.
  // `own`: all addresses of this computer.
  bool yield_to(const dns::Message& response, const Addresses& own);

  const std::vector<Announcement>& announcements() const { return announcements_; }

 private:
  std::vector<dns::Record> records(const Addresses& here) const;

  std::vector<Announcement> announcements_;
  std::vector<unsigned> instance_numbers_, host_numbers_;  // 1: the name as it was given
  std::vector<std::pair<std::string, std::string>> given_;
};

}  // namespace eyelevel::find::mdns
