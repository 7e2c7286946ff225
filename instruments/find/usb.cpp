// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/usb.hpp"

#include <fmt/format.h>

#include <memory>

namespace eyelevel::find {

Seen collect(const std::vector<transport::usbtmc::FoundInterface>& found) {
  Seen seen;
  for (const auto& one : found) {
    const auto resource = one.resource.canonical();
    if (!one.trouble.empty()) {
      const auto named = one.maker.empty() && one.model.empty()
                             ? fmt::format("at USB {}", one.place)
                             : fmt::format("{} {} at USB {}", one.maker, one.model, one.place);
      seen.unusable.push_back({fmt::format("{} ({})", resource, printable(named)), one.trouble, one.advice});
      continue;
    }
    Sighting sighting;
    sighting.resource = resource;
    sighting.seen_by = "USB";
    sighting.identity = {one.maker, one.model, one.serial, {}};
    seen.sightings.push_back(std::move(sighting));
  }
  return seen;
}

task<Seen> usb_instruments() {
  co_return collect(co_await transport::usbtmc::list_interfaces(std::make_shared<transport::usbtmc::Usb>()));
}

}  // namespace eyelevel::find
