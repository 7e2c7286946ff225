// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/merge.hpp"

#include <algorithm>
#include <utility>

#include "instruments/transport/resource_name.hpp"

namespace eyelevel::find {
namespace {

using transport::Carrier;

int rank(const std::string& resource) {
  switch (transport::parse_resource_name(resource).carrier) {
    case Carrier::memory: return 0;
    case Carrier::usbtmc: return 1;
    case Carrier::hislip: return 2;
    case Carrier::vxi11: return 3;
    case Carrier::socket: return 4;
    case Carrier::serial: return 5;
    case Carrier::gpib: return 6;
    case Carrier::plugin: return 7;
  }
  return 8;
}

void add(std::vector<std::string>& list, const std::string& one) {
  if (!one.empty() && std::find(list.begin(), list.end(), one) == list.end()) list.push_back(one);
}

void take_over(Identity& identity, const Identity& from) {
  for (const auto field : {&Identity::maker, &Identity::model, &Identity::serial, &Identity::firmware})
    if ((identity.*field).empty()) identity.*field = from.*field;
}

void join(Candidate& into, const Candidate& other) {
  if (into.instance.empty()) into.instance = other.instance;
  for (const auto& one : other.hosts) add(into.hosts, one);
  for (const auto& one : other.resources) add(into.resources, one);
  for (const auto& one : other.seen_by) add(into.seen_by, one);
  take_over(into.identity, other.identity);
  if (into.doubt.empty()) into.doubt = other.doubt;
  std::sort(into.resources.begin(), into.resources.end(),
            [](const auto& a, const auto& b) { return std::pair(rank(a), a) < std::pair(rank(b), b); });
}

Candidate candidate_of(const Sighting& sighting) {
  Candidate one;
  one.instance = sighting.instance;
  add(one.hosts, sighting.host);
  add(one.resources, sighting.resource);
  add(one.seen_by, sighting.seen_by);
  one.identity = sighting.identity;
  one.doubt = sighting.doubt;
  return one;
}

bool equal(std::string_view a, std::string_view b) {  // without case: VPP-4.3, 4.3.1 of serial numbers
  const auto small = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [&](char x, char y) { return small(x) == small(y); });
}

bool share_host(const Candidate& a, const Candidate& b) {
  return std::any_of(a.hosts.begin(), a.hosts.end(), [&](const auto& host) {
    return std::find(b.hosts.begin(), b.hosts.end(), host) != b.hosts.end();
  });
}

// Both offer one service at one host at different ports or devices: a host with several instruments.
bool contradict(const Candidate& a, const Candidate& b) {
  for (const auto& one : a.resources)
    for (const auto& other : b.resources) {
      const auto x = transport::parse_resource_name(one);
      const auto y = transport::parse_resource_name(other);
      if (x.carrier == y.carrier && x.host == y.host && one != other) return true;
    }
  return false;
}

// Two makers may count alike: equal serial numbers of different models are two instruments, but on one host.
bool same_serial(const Candidate& a, const Candidate& b) {
  if (a.identity.serial.empty() || !equal(a.identity.serial, b.identity.serial)) return false;
  return a.identity.model.empty() || b.identity.model.empty() || equal(a.identity.model, b.identity.model) ||
         share_host(a, b);
}

bool same_host(const Candidate& a, const Candidate& b) {
  const bool told = !a.identity.serial.empty() && !b.identity.serial.empty();
  return !told && share_host(a, b) && !contradict(a, b);
}

// Each joins the first before it that is the same.
template <class Same>
std::vector<Candidate> joined(std::vector<Candidate> all, Same same) {
  std::vector<Candidate> out;
  for (auto& one : all) {
    const auto at = std::find_if(out.begin(), out.end(), [&](const Candidate& other) { return same(other, one); });
    if (at == out.end())
      out.push_back(std::move(one));
    else
      join(*at, one);
  }
  return out;
}

// What has no name of its own joins the only one of its host; where there are several, nobody knows which.
std::vector<Candidate> joined_by_host(std::vector<Candidate> all, bool nameless_only) {
  for (std::size_t i = 0; i < all.size();) {
    const bool is_free = nameless_only ? all[i].instance.empty() : all[i].identity.serial.empty();
    std::vector<std::size_t> same;
    for (std::size_t j = 0; j < all.size(); ++j)
      if (j != i && same_host(all[j], all[i])) same.push_back(j);
    if (is_free && same.size() == 1) {
      join(all[same[0]], all[i]);
      all.erase(all.begin() + static_cast<std::ptrdiff_t>(i));
      i = 0;
    } else {
      ++i;
    }
  }
  return all;
}

}  // namespace

std::vector<Candidate> gather(const std::vector<Sighting>& sightings) {
  std::vector<Candidate> all;
  for (const auto& sighting : sightings) all.push_back(candidate_of(sighting));
  all = joined(std::move(all), [](const Candidate& a, const Candidate& b) {
    return share_host(a, b) && a.instance == b.instance && !contradict(a, b) &&
           (a.identity.serial.empty() || b.identity.serial.empty() || equal(a.identity.serial, b.identity.serial));
  });
  return joined_by_host(std::move(all), true);
}

std::vector<Candidate> merge(std::vector<Candidate> candidates) {
  return joined_by_host(joined(std::move(candidates), same_serial), false);
}

}  // namespace eyelevel::find
