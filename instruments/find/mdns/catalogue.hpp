// SPDX-License-Identifier: Apache-2.0
// What the answers of multicast DNS add up to (RFC 6763): instances of services, where they are, what they say of
// themselves; and which questions are still open. No I/O. What comes is hostile: only services that were asked for are
// kept, and no more of them than the limits below.
#pragma once

#include <boost/asio/ip/address.hpp>

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "instruments/find/dns/message.hpp"

namespace eyelevel::find::mdns {

inline constexpr std::size_t most_instances = 256;
inline constexpr std::size_t most_hosts = 256;
inline constexpr std::size_t most_addresses = 16;  // of a host

// The service types of instruments, best first: LXI Device Specification 1.5 (ports and services), IVI-6.1 (_hislip).
inline constexpr std::string_view service_types[] = {"_hislip._tcp", "_vxi-11._tcp",      "_scpi-raw._tcp",
                                                     "_lxi._tcp",    "_scpi-telnet._tcp", "_http._tcp"};

struct Service {
  std::string type;      // "_hislip._tcp"
  std::string instance;  // UTF-8 as a rule, but any bytes
  std::string host;      // "scope.local"
  std::uint16_t port = 0;
  std::map<std::string, std::string> txt;           // keys in small letters (RFC 6763, 6.4)
  std::vector<boost::asio::ip::address> addresses;  // IPv4 first; link-local IPv6 with its scope
};

// RFC 6763, 6.4: without case, the first of equal keys counts, a string without '=' is a key without a value.
std::map<std::string, std::string> keys_of(const dns::Txt& txt);

class Catalogue {
 public:
  Catalogue();

  // `from`: who sent it, for hosts whose address is not told. `interface`: its index, the scope of link-local
  // addresses.
  void take(const dns::Message& message, const boost::asio::ip::address& from, unsigned interface);

  // For the types: PTR.
  std::vector<dns::Question> first_questions() const;
  // SRV and TXT of instances, A and AAAA of hosts that are not known yet.
  std::vector<dns::Question> open_questions() const;

  // Those whose place is known, in the order of their names.
  std::vector<Service> services() const;
  // Instances, as "name._lxi._tcp.local" text, of which nobody said where they are.
  std::vector<std::string> unresolved() const;
  bool overflowed() const { return overflowed_; }  // more was announced than the limits allow

 private:
  struct Instance {
    std::optional<dns::Srv> srv;
    std::optional<dns::Txt> txt;
    boost::asio::ip::address from;
  };

  const dns::Name* type_of(const dns::Name& instance) const;
  Instance* instance(const dns::Name& name, const boost::asio::ip::address& from);
  void take_service(const dns::Record& record, const boost::asio::ip::address& from);
  void take_address(const dns::Record& record, unsigned interface);

  std::vector<dns::Name> types_;
  std::map<dns::Name, Instance> instances_;
  std::map<dns::Name, std::set<boost::asio::ip::address>> hosts_;
  bool overflowed_ = false;
};

}  // namespace eyelevel::find::mdns
