// SPDX-License-Identifier: Apache-2.0
// The ways of reaching an instrument that a program has, as a value: filled by whoever wires the program together,
// looked up by the kind of resource name. Adding a transport is one more entry.
#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/link.hpp"
#include "instruments/transport/memory/server.hpp"
#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/serial/client.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/usbtmc/quirks.hpp"
#include "instruments/transport/vxi11/client.hpp"

namespace eyelevel::transport {

using OpenFunction = std::function<task<std::unique_ptr<Link>>(ResourceName)>;
// The same for what is opened in steps: `step` always names the one that is waited for, for the message when time is
// up.
using OpenInSteps = std::function<task<std::unique_ptr<Link>>(ResourceName, std::shared_ptr<std::string> step)>;
// For links that wait by themselves; the timeline outlives them.
using OpenOnTimeline = std::function<task<std::unique_ptr<Link>>(ResourceName, base::Timeline&)>;

class Transports {
 public:
  void add(Carrier carrier, OpenFunction open) {
    open_[carrier] = [open = std::move(open)](ResourceName name, base::Timeline&, const Step&) {
      return open(std::move(name));
    };
  }
  void add_on_timeline(Carrier carrier, OpenOnTimeline open) {
    open_[carrier] = [open = std::move(open)](ResourceName name, base::Timeline& timeline, const Step&) {
      return open(std::move(name), timeline);
    };
  }
  void add_in_steps(Carrier carrier, OpenInSteps open) {
    open_[carrier] = [open = std::move(open)](ResourceName name, base::Timeline&, Step step) {
      return open(std::move(name), std::move(step));
    };
  }
  bool serves(Carrier carrier) const { return open_.contains(carrier); }

  // Parses the name and opens it; one deadline for all. Throws TransportError: bad_input (not a resource name),
  // no_connection (not served by this version, not reachable, or `within` passed).
  task<std::unique_ptr<Link>> open(std::string resource, base::Timeline& timeline, base::Duration within) const;
  task<std::unique_ptr<Session>> open_session(std::string resource, base::Timeline& timeline,
                                              base::Duration within) const;

 private:
  using Step = std::shared_ptr<std::string>;
  std::map<Carrier, std::function<task<std::unique_ptr<Link>>(ResourceName, base::Timeline&, Step)>> open_;
};

// Sockets.
void add_socket(Transports& transports);
// VXI-11 instruments; `how` without step.
void add_vxi11(Transports& transports, vxi11::Options how = {});
// Serial ports; `line_of` says how each is set.
void add_serial(Transports& transports, std::function<serial::Line(const ResourceName&)> line_of);
// HiSLIP; `options_of` says whether and how each is spoken to encrypted, empty: none is.
void add_hislip(Transports& transports, std::function<hislip::ClientOptions(const ResourceName&)> options_of = {});
// USB instruments (USBTMC); `quirks_of` says what each needs beyond the standard, empty: nothing. The computer's USB is
// looked at when the first one is opened.
void add_usbtmc(Transports& transports, std::function<usbtmc::Quirks(const ResourceName&)> quirks_of = {});
// What an installed VISA library carries: GPIB. `library` as the system's loader looks for it, or a path; it is loaded
// when the first such instrument is opened.
void add_visa(Transports& transports, std::string library = "libvisa.so");
// Transports that come from outside, by the name that PLUGIN::name::address has.
void add_outside(Transports& transports, std::map<std::string, OpenOnTimeline> by_name);
// The instruments of a simulated bench in this process.
void add_memory(Transports& transports, std::shared_ptr<const memory::MemoryServer> server);

}  // namespace eyelevel::transport
