// SPDX-License-Identifier: Apache-2.0
// Looks for instruments everywhere at once, for a bounded time: multicast DNS and VXI-11 broadcast on every interface,
// and whatever else is handed in (USB, serial ports). Then asks *IDN? of those that did not say what they are, over
// their best link, all at the same time, and merges what is one instrument. What was seen and cannot be used is told
// with the reason and what to try. Not for printing. One thread.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/find/interfaces.hpp"
#include "instruments/find/sighting.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::find {

// Another way of looking. It ends by itself; what it throws becomes an Unusable. A sighting whose identity is complete
// (that of a USB instrument's string descriptors) is not asked.
struct Lister {
  std::string what;  // "USB"
  std::function<task<Seen>()> look;
};

struct Options {
  base::Duration listen = std::chrono::seconds(2);
  base::Duration ask = std::chrono::seconds(2);  // besides, when somebody has to be asked
  std::vector<Interface> interfaces;
  std::vector<Lister> others;
  std::uint16_t mdns_port = 5353;
  std::uint16_t portmapper_port = 111;
};

struct Instrument {
  std::string name;                    // as it announces itself, else its model, else where it is
  std::vector<std::string> resources;  // canonical, best first
  Identity identity;
  std::vector<std::string> seen_by;
};

struct Findings {
  std::vector<Instrument> instruments;
  std::vector<Unusable> unusable;
  std::vector<std::string> searched;  // interfaces
};

task<Findings> find(base::Timeline& timeline, const transport::Transports& transports, Options options);

}  // namespace eyelevel::find
