// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/mdns/catalogue.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace eyelevel::find::mdns {
namespace ip = boost::asio::ip;
namespace {

template <class Take>
void for_each_record(const dns::Message& message, Take take) {
  for (const auto* section : {&message.answers, &message.additionals})
    for (const auto& record : *section)
      if (record.dns_class == dns::class_in) take(record);
}

}  // namespace

std::map<std::string, std::string> keys_of(const dns::Txt& txt) {
  std::map<std::string, std::string> keys;
  for (const auto& text : txt.strings) {
    const std::size_t sign = std::min(text.find('='), text.size());
    if (sign == 0) continue;  // RFC 6763, 6.4: no key, to be ignored
    std::string key = text.substr(0, sign);
    for (char& c : key)
      if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
    keys.emplace(std::move(key), sign < text.size() ? text.substr(sign + 1) : std::string());
  }
  return keys;
}

Catalogue::Catalogue() {
  for (const auto type : service_types) types_.push_back(dns::name_of(std::string(type) + ".local"));
}

// An instance is one label before its type (RFC 6763, 4.1).
const dns::Name* Catalogue::type_of(const dns::Name& instance) const {
  for (const auto& type : types_)
    if (instance.labels.size() == type.labels.size() + 1 && instance.ends_with(type)) return &type;
  return nullptr;
}

Catalogue::Instance* Catalogue::instance(const dns::Name& name, const ip::address& from) {
  if (type_of(name) == nullptr) return nullptr;
  const auto at = instances_.find(name);
  if (at != instances_.end()) return &at->second;
  if (instances_.size() >= most_instances) {
    overflowed_ = true;
    return nullptr;
  }
  auto& fresh = instances_[name];
  fresh.from = from;
  return &fresh;
}

void Catalogue::take_service(const dns::Record& record, const ip::address& from) {
  const bool goodbye = record.ttl_s == 0;  // RFC 6762, 10.1
  if (const auto* ptr = std::get_if<dns::Ptr>(&record.data)) {
    const auto* type = type_of(ptr->target);
    if (type == nullptr || !(record.name == *type)) return;
    if (goodbye)
      instances_.erase(ptr->target);
    else
      instance(ptr->target, from);
  } else if (const auto* srv = std::get_if<dns::Srv>(&record.data); srv != nullptr && !goodbye) {
    if (auto* of = instance(record.name, from)) of->srv = *srv;
  } else if (const auto* txt = std::get_if<dns::Txt>(&record.data); txt != nullptr && !goodbye) {
    if (auto* of = instance(record.name, from)) of->txt = *txt;
  }
}

void Catalogue::take_address(const dns::Record& record, unsigned interface) {
  ip::address address;
  if (const auto* a = std::get_if<dns::A>(&record.data)) {
    address = ip::address_v4(a->address);
  } else if (const auto* aaaa = std::get_if<dns::Aaaa>(&record.data)) {
    ip::address_v6 v6(aaaa->address);
    if (v6.is_link_local()) v6.scope_id(interface);
    address = v6;
  }
  if (address.is_unspecified() || address.is_multicast() || record.ttl_s == 0) return;
  const auto at = hosts_.find(record.name);
  if (at == hosts_.end()) return;  // nobody's host
  if (at->second.size() < most_addresses) at->second.insert(address);
}

void Catalogue::take(const dns::Message& message, const ip::address& from, unsigned interface) {
  if (!message.response || message.opcode != 0 || message.response_code != 0) return;  // RFC 6762, 18.3 and 18.11
  for_each_record(message, [&](const dns::Record& record) { take_service(record, from); });
  for (const auto& [name, one] : instances_) {
    if (!one.srv || hosts_.contains(one.srv->target)) continue;
    if (hosts_.size() < most_hosts)
      hosts_[one.srv->target];
    else
      overflowed_ = true;
  }
  for_each_record(message, [&](const dns::Record& record) { take_address(record, interface); });
}

std::vector<dns::Question> Catalogue::first_questions() const {
  std::vector<dns::Question> questions;
  for (const auto& type : types_) questions.push_back({type, dns::Type::ptr, dns::class_in, false});
  return questions;
}

std::vector<dns::Question> Catalogue::open_questions() const {
  std::vector<dns::Question> questions;
  for (const auto& [name, one] : instances_) {
    if (!one.srv) questions.push_back({name, dns::Type::srv, dns::class_in, false});
    if (!one.txt) questions.push_back({name, dns::Type::txt, dns::class_in, false});
  }
  for (const auto& [name, addresses] : hosts_) {
    if (!addresses.empty()) continue;
    questions.push_back({name, dns::Type::a, dns::class_in, false});
    questions.push_back({name, dns::Type::aaaa, dns::class_in, false});
  }
  return questions;
}

std::vector<Service> Catalogue::services() const {
  std::vector<Service> services;
  for (const auto& [name, one] : instances_) {
    if (!one.srv) continue;
    Service service;
    const auto& type = *type_of(name);
    service.type = fmt::format("{}.{}", type.labels[0], type.labels[1]);
    service.instance = name.labels[0];
    service.host = dns::text_of(one.srv->target);
    service.port = one.srv->port;
    if (one.txt) service.txt = keys_of(*one.txt);
    if (const auto at = hosts_.find(one.srv->target); at != hosts_.end())
      service.addresses.assign(at->second.begin(), at->second.end());  // an address orders IPv4 first
    // Who answers for a service is its host, unless it says otherwise.
    if (service.addresses.empty()) service.addresses.push_back(one.from);
    services.push_back(std::move(service));
  }
  return services;
}

std::vector<std::string> Catalogue::unresolved() const {
  std::vector<std::string> names;
  for (const auto& [name, one] : instances_)
    if (!one.srv) names.push_back(dns::text_of(name));
  return names;
}

}  // namespace eyelevel::find::mdns
