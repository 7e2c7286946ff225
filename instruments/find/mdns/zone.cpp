// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/mdns/zone.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

namespace eyelevel::find::mdns {
namespace ip = boost::asio::ip;
namespace {

// RFC 6762, 10: with a host's name or address in it, and all others.
constexpr std::uint32_t host_ttl_s = 120;
constexpr std::uint32_t other_ttl_s = 4500;
constexpr std::uint32_t legacy_ttl_s = 10;  // RFC 6762, 6.7

dns::Name local(std::string_view type) { return dns::name_of(std::string(type) + ".local"); }
dns::Name host_of(const Announcement& one) { return dns::below(one.host, dns::name_of("local")); }
// RFC 6763, 9: which types there are.
dns::Name all_types() { return dns::name_of("_services._dns-sd._udp.local"); }

dns::Record record(dns::Name name, dns::Type type, std::uint32_t ttl_s, bool flush, dns::Data data) {
  return {std::move(name), type, dns::class_in, flush, ttl_s, std::move(data)};
}

dns::Record address_record(const dns::Name& host, const ip::address& address) {
  if (address.is_v4()) return record(host, dns::Type::a, host_ttl_s, true, dns::A{address.to_v4().to_bytes()});
  return record(host, dns::Type::aaaa, host_ttl_s, true, dns::Aaaa{address.to_v6().to_bytes()});
}

bool is_same_address(const ip::address& one, const ip::address& other) {
  if (one.is_v4() != other.is_v4()) return false;
  if (one.is_v4()) return one == other;
  return one.to_v6().to_bytes() == other.to_v6().to_bytes();  // whatever the scope
}

bool holds(const Addresses& list, const ip::address& address) {
  return std::any_of(list.begin(), list.end(), [&](const auto& one) { return is_same_address(one, address); });
}

dns::Txt txt_of(const Announcement& one) {
  dns::Txt txt{{"txtvers=1"}};
  for (const auto& [key, value] : one.txt) txt.strings.push_back(key + "=" + value);
  return txt;
}

bool is_same(const dns::Record& one, const dns::Record& other) {
  return one.type == other.type && one.name == other.name && one.data == other.data;
}

bool is_asked_for(const dns::Record& record, const dns::Question& question) {
  return (question.dns_class == dns::class_in || question.dns_class == dns::class_any) &&
         (question.type == record.type || question.type == dns::Type::any) && question.name == record.name;
}

// Of use to who gets this record (RFC 6763, 12).
std::vector<dns::Name> names_behind(const dns::Record& record) {
  if (const auto* ptr = std::get_if<dns::Ptr>(&record.data)) return {ptr->target};
  if (const auto* srv = std::get_if<dns::Srv>(&record.data)) return {srv->target};
  return {};
}

// A label with room for what is put behind it.
std::string with_end(const std::string& label, const std::string& end) {
  return label.substr(0, dns::most_label_bytes - end.size()) + end;
}

std::optional<dns::Message> response_of(std::vector<dns::Record> records) {
  if (records.empty()) return std::nullopt;
  dns::Message message;
  message.response = message.authoritative = true;
  message.answers = std::move(records);
  return message;
}

}  // namespace

Zone::Zone(std::vector<Announcement> announcements)
    : announcements_(std::move(announcements)),
      instance_numbers_(announcements_.size(), 1),
      host_numbers_(announcements_.size(), 1) {
  for (const auto& one : announcements_) {
    given_.emplace_back(one.instance, one.host);
    for (const auto& offered : one.services) dns::below(one.instance, local(offered.type));  // throws
    host_of(one);
    for (const auto& text : txt_of(one).strings)
      if (text.size() > 255) throw std::invalid_argument("a TXT string is longer than 255 bytes: " + text);
  }
}

std::vector<dns::Record> Zone::records(const Addresses& here) const {
  std::vector<dns::Record> all;
  for (const auto& one : announcements_) {
    Addresses listening;
    for (const auto& address : here)
      if (one.at.empty() || holds(one.at, address)) listening.push_back(address);
    if (listening.empty()) continue;
    const auto host = host_of(one);
    for (const auto& offered : one.services) {
      const auto type = local(offered.type);
      const auto instance = dns::below(one.instance, type);
      all.push_back(record(type, dns::Type::ptr, other_ttl_s, false, dns::Ptr{instance}));
      all.push_back(record(all_types(), dns::Type::ptr, other_ttl_s, false, dns::Ptr{type}));
      all.push_back(record(instance, dns::Type::srv, host_ttl_s, true, dns::Srv{0, 0, offered.port, host}));
      all.push_back(record(instance, dns::Type::txt, other_ttl_s, true, txt_of(one)));
    }
    for (const auto& address : listening) all.push_back(address_record(host, address));
  }
  return all;
}

// RFC 6762, 8.1: asks for any record of the names, and tells which ones it means to have. Without the QU bit, which is
// recommended there: at a port that several programs share, an answer to this computer may reach another one (15.1).
std::optional<dns::Message> Zone::probe(const Addresses& here) const {
  dns::Message message;
  for (auto& one : records(here)) {
    if (!one.flush) continue;  // shared by all
    const bool asked = std::any_of(message.questions.begin(), message.questions.end(),
                                   [&](const auto& question) { return question.name == one.name; });
    if (!asked) message.questions.push_back({one.name, dns::Type::any, dns::class_in, false});
    one.flush = false;
    message.authorities.push_back(std::move(one));
  }
  if (message.questions.empty()) return std::nullopt;
  return message;
}

std::optional<dns::Message> Zone::announcement(const Addresses& here) const { return response_of(records(here)); }

std::optional<dns::Message> Zone::goodbye(const Addresses& here) const {
  auto all = records(here);
  for (auto& one : all) one.ttl_s = 0;
  return response_of(std::move(all));
}

std::optional<dns::Message> Zone::answer(const dns::Message& query, const Addresses& here, bool legacy) const {
  auto all = records(here);
  enum class Use { none, answer, additional };
  std::vector<Use> uses(all.size(), Use::none);
  const auto is_known = [&](const dns::Record& one) {  // RFC 6762, 7.1
    return std::any_of(query.answers.begin(), query.answers.end(),
                       [&](const dns::Record& known) { return is_same(known, one) && known.ttl_s >= one.ttl_s / 2; });
  };
  for (std::size_t i = 0; i < all.size(); ++i) {
    const bool asked = std::any_of(query.questions.begin(), query.questions.end(),
                                   [&](const auto& question) { return is_asked_for(all[i], question); });
    const bool said = std::any_of(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(i),
                                  [&](const auto& before) { return is_same(before, all[i]); });
    if (asked && !said && !is_known(all[i])) uses[i] = Use::answer;
  }
  // Two steps: from PTR to SRV and TXT, from SRV to addresses.
  for (int step = 0; step < 2; ++step)
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (uses[i] == Use::none || all[i].name == all_types()) continue;
      for (const auto& name : names_behind(all[i]))
        for (std::size_t j = 0; j < all.size(); ++j)
          if (uses[j] == Use::none && all[j].name == name) uses[j] = Use::additional;
    }
  dns::Message message;
  message.response = message.authoritative = true;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (uses[i] == Use::none) continue;
    if (legacy) {
      all[i].flush = false;
      all[i].ttl_s = std::min(all[i].ttl_s, legacy_ttl_s);
    }
    (uses[i] == Use::answer ? message.answers : message.additionals).push_back(std::move(all[i]));
  }
  if (message.answers.empty()) return std::nullopt;
  if (legacy) {
    message.id = query.id;
    message.questions = query.questions;
    for (auto& question : message.questions) question.unicast = false;
  }
  return message;
}

bool Zone::yield_to(const dns::Message& response, const Addresses& own) {
  bool yielded = false;
  const auto theirs = [&](auto is_conflict) {
    return std::any_of(response.answers.begin(), response.answers.end(), is_conflict) ||
           std::any_of(response.additionals.begin(), response.additionals.end(), is_conflict);
  };
  for (std::size_t i = 0; i < announcements_.size(); ++i) {
    auto& one = announcements_[i];
    const auto host = host_of(one);
    const bool instance_taken = theirs([&](const dns::Record& record) {
      if (record.ttl_s == 0) return false;
      return std::any_of(one.services.begin(), one.services.end(), [&](const auto& offered) {
        if (!(record.name == dns::below(one.instance, local(offered.type)))) return false;
        const auto* srv = std::get_if<dns::Srv>(&record.data);
        return srv != nullptr && !(*srv == dns::Srv{0, 0, offered.port, host});
      });
    });
    const bool host_taken = theirs([&](const dns::Record& record) {
      if (record.ttl_s == 0 || !(record.name == host)) return false;
      if (const auto* a = std::get_if<dns::A>(&record.data)) return !holds(own, ip::address_v4(a->address));
      if (const auto* aaaa = std::get_if<dns::Aaaa>(&record.data)) return !holds(own, ip::address_v6(aaaa->address));
      return false;
    });
    if (instance_taken) one.instance = with_end(given_[i].first, fmt::format(" ({})", ++instance_numbers_[i]));
    if (host_taken) one.host = with_end(given_[i].second, fmt::format("-{}", ++host_numbers_[i]));
    yielded = yielded || instance_taken || host_taken;
  }
  return yielded;
}

}  // namespace eyelevel::find::mdns
