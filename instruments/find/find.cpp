// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/find.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <optional>
#include <utility>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/find/broadcast/search.hpp"
#include "instruments/find/collect.hpp"
#include "instruments/find/detail/together.hpp"
#include "instruments/find/mdns/browser.hpp"
#include "instruments/find/merge.hpp"

namespace eyelevel::find {
namespace {

struct Failure {
  std::string resource;
  std::string why;
  std::string attempt;
};

struct Asked {
  Candidate candidate;
  bool usable = true;
  std::vector<Failure> failures;
};

std::string name_of(const Candidate& one) {
  if (!one.instance.empty()) return one.instance;
  if (!one.identity.model.empty()) return one.identity.model;
  if (!one.hosts.empty()) return one.hosts.front();
  return one.resources.empty() ? "without a name" : one.resources.front();
}

class Search {
 public:
  Search(base::Timeline& timeline, const transport::Transports& transports, Options options)
      : timeline_(timeline), transports_(transports), options_(std::move(options)) {}

  task<Findings> run() {
    choose_interfaces();
    co_await look();
    std::vector<Asked> asked;
    for (auto& one : gather(sightings_)) asked.push_back({std::move(one), true, {}});
    std::vector<task<>> works;
    for (auto& one : asked)
      if (needs_asking(one)) works.push_back(ask(one));
    co_await detail::together(std::move(works));
    std::vector<Candidate> usable;
    for (auto& one : asked) {
      tell_failures(one);
      if (one.usable) usable.push_back(std::move(one.candidate));
    }
    for (auto& one : merge(std::move(usable))) {
      auto name = name_of(one);
      found_.instruments.push_back(
          {std::move(name), std::move(one.resources), std::move(one.identity), std::move(one.seen_by)});
    }
    co_return std::move(found_);
  }

 private:
  // What is down cannot be asked; on loopback only simulators answer, and they do it over IPv4.
  void choose_interfaces() {
    std::erase_if(options_.interfaces,
                  [](const Interface& one) { return !one.up || (one.v4.empty() && one.v6.empty()); });
    for (auto& one : options_.interfaces)
      if (one.loopback) one.v6.clear();
    for (const auto& one : options_.interfaces) found_.searched.push_back(one.name);
    const bool network = std::any_of(options_.interfaces.begin(), options_.interfaces.end(),
                                     [](const Interface& one) { return !one.loopback; });
    if (!network)
      found_.unusable.push_back({"network", "no interface of this computer is up and has an address",
                                 "plug the network cable in, or set the interface's address"});
  }

  task<> look() {
    std::vector<task<>> works;
    works.push_back(browse());
    works.push_back(broadcast());
    for (const auto& one : options_.others) works.push_back(list(one));
    co_await detail::together(std::move(works));
  }

  void take(Seen seen) {
    for (auto& one : seen.unusable) found_.unusable.push_back(std::move(one));
    for (auto& one : seen.sightings) {
      try {
        if (!one.resource.empty()) one.resource = transport::parse_resource_name(one.resource).canonical();
        sightings_.push_back(std::move(one));
      } catch (const base::Error& error) {
        found_.unusable.push_back({printable(one.resource), error.record().message, error.record().advice});
      }
    }
  }

  void take_obstacles(const std::vector<std::string>& obstacles) {
    for (const auto& text : obstacles)
      found_.unusable.push_back({text.substr(0, text.find(':')), text.substr(std::min(text.find(':') + 2, text.size())),
                                 "look whether a firewall or another program keeps it from being used"});
  }

  task<> browse() {
    const auto browsed = co_await mdns::browse(timeline_, options_.interfaces, options_.listen, options_.mdns_port);
    take(collect(browsed, options_.interfaces));
    take_obstacles(browsed.obstacles);
  }

  task<> broadcast() {
    const auto searched =
        co_await broadcast::search(timeline_, options_.interfaces, options_.listen, options_.portmapper_port);
    take(collect(searched));
    take_obstacles(searched.obstacles);
  }

  task<> list(const Lister& lister) {
    try {
      take(co_await lister.look());
    } catch (const base::Error& error) {
      found_.unusable.push_back({lister.what, error.record().message, error.record().advice});
    }
  }

  bool serves(const std::string& resource) const {
    return transports_.serves(transport::parse_resource_name(resource).carrier);
  }

  // Sorts out what cannot be asked. True: somebody has to be.
  bool needs_asking(Asked& one) {
    const auto& resources = one.candidate.resources;
    if (resources.empty()) {
      one.usable = false;
      one.failures.push_back(
          {fmt::format("{} at {}", printable(name_of(one.candidate)), fmt::join(one.candidate.hosts, ", ")),
           fmt::format("is announced ({}), but with no service for remote control: HiSLIP, VXI-11 or a socket",
                       fmt::join(one.candidate.seen_by, ", ")),
           "switch remote control by LAN on in the instrument's menu; its page in a browser may have it, too"});
      return false;
    }
    const bool any = std::any_of(resources.begin(), resources.end(), [&](const auto& name) { return serves(name); });
    if (any) return !one.candidate.identity.complete();
    one.usable = false;
    for (const auto& name : resources)
      one.failures.push_back({name,
                              fmt::format("instruments reached by {} are not yet served by this version",
                                          transport::name_of(transport::parse_resource_name(name).carrier)),
                              "look whether the instrument has another way: a socket, VXI-11 or HiSLIP"});
    return false;
  }

  // The best link that answers; each has half of the time that is left, the last one all of it.
  task<> ask(Asked& one) {
    const auto due = timeline_.now() + options_.ask;
    std::vector<std::string> served;
    for (const auto& name : one.candidate.resources)
      if (serves(name)) served.push_back(name);
    one.usable = false;
    for (std::size_t i = 0; i < served.size() && !one.usable; ++i) {
      const auto left = due - timeline_.now();
      const auto within = i + 1 < served.size() ? left / 2 : left;
      Failure failure{served[i], {}, {}};
      const auto answer = co_await answer_of(served[i], within, failure);
      if (answer) {
        const auto told = identity_of(*answer);
        one.usable = true;
        if (!told.empty()) one.candidate.identity = told;
      } else {
        if (!one.candidate.doubt.empty()) failure.why += "; " + one.candidate.doubt;
        one.failures.push_back(std::move(failure));
      }
    }
    for (const auto& failure : one.failures) std::erase(one.candidate.resources, failure.resource);
  }

  task<std::optional<std::string>> answer_of(const std::string& resource, base::Duration within, Failure& failure) {
    try {
      const auto answer = co_await base::result_within(timeline_, within, query(resource, within));
      if (answer && !answer->empty()) co_return answer;
      failure.why = answer ? "answers *IDN? with an empty message"
                           : fmt::format("no answer to *IDN? within {:.2f} s", base::to_seconds(within));
      failure.attempt = "is another program using the instrument? switch it off and on, and look once more";
    } catch (const base::Error& error) {
      failure.why = error.record().message;
      failure.attempt = error.record().advice;
    }
    co_return std::nullopt;
  }

  task<std::string> query(const std::string& resource, base::Duration within) {
    const auto link = co_await transports_.open(resource, timeline_, within);
    transport::Buffer answer;
    co_await link->write("*IDN?");
    co_await link->read(answer, transport::most_identity_bytes);
    link->close();
    co_return answer;
  }

  void tell_failures(Asked& one) {
    for (auto& failure : one.failures) {
      const bool named = !one.candidate.instance.empty() && failure.resource.find(' ') == std::string::npos;
      found_.unusable.push_back(
          {named ? fmt::format("{} ({})", failure.resource, printable(one.candidate.instance)) : failure.resource,
           std::move(failure.why), std::move(failure.attempt)});
    }
  }

  base::Timeline& timeline_;
  const transport::Transports& transports_;
  Options options_;
  std::vector<Sighting> sightings_;
  Findings found_;
};

}  // namespace

task<Findings> find(base::Timeline& timeline, const transport::Transports& transports, Options options) {
  Search search(timeline, transports, std::move(options));
  co_return co_await search.run();
}

}  // namespace eyelevel::find
