// SPDX-License-Identifier: Apache-2.0
#include "instruments/find/serial_ports.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <system_error>
#include <vector>

#include "core/base/error.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::find {
namespace {

std::vector<std::string> names_in(const std::filesystem::path& folder) {
  std::vector<std::string> names;
  std::error_code none;  // a folder that is not there or not readable holds nothing for us
  for (std::filesystem::directory_iterator at(folder, none), end; !none && at != end; at.increment(none))
    names.push_back(at->path().filename().string());
  std::sort(names.begin(), names.end());
  return names;
}

std::vector<std::filesystem::path> ports_in(const std::filesystem::path& dev) {
  std::vector<std::filesystem::path> ports;
  for (const auto& name : names_in(dev / "serial/by-id")) ports.push_back(dev / "serial/by-id" / name);
  if (!ports.empty()) return ports;
  for (const auto& name : names_in(dev))
    if (name.starts_with("ttyUSB") || name.starts_with("ttyACM")) ports.push_back(dev / name);
  return ports;
}

}  // namespace

Seen serial_ports(const std::filesystem::path& dev, bool to_be_asked) {
  Seen seen;
  for (const auto& port : ports_in(dev)) {
    std::string resource;
    try {
      resource = transport::parse_resource_name("ASRL" + port.string() + "::INSTR").canonical();
    } catch (const base::Error&) {
      seen.unusable.push_back({printable(port.string()), "is a serial port whose name cannot be a resource name",
                               "give it another name by a rule of the system, or use its ttyUSB name"});
      continue;
    }
    if (to_be_asked) {
      Sighting one;
      one.resource = resource;
      one.seen_by = "serial";
      seen.sightings.push_back(std::move(one));
    } else {
      seen.unusable.push_back({resource, "is a serial port; what is behind it is not known without asking",
                               "eyelevel find --ask-serial sends *IDN? at 9600 baud to every serial port"});
    }
  }
  return seen;
}

}  // namespace eyelevel::find
