// SPDX-License-Identifier: Apache-2.0
// What the ways of looking bring home, and what becomes of it. Texts are as the instruments said them, any bytes:
// printable() before they are shown.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::find {

// The four fields of *IDN? (IEEE 488.2, 10.14); empty: not known.
struct Identity {
  std::string maker;
  std::string model;
  std::string serial;
  std::string firmware;

  bool operator==(const Identity&) const = default;
  bool empty() const { return maker.empty() && model.empty() && serial.empty() && firmware.empty(); }
  // Enough to tell one instrument from another.
  bool complete() const { return !maker.empty() && !model.empty() && !serial.empty(); }
};

// From an answer to *IDN?; a field "0" is not known (IEEE 488.2, 10.14.3). More than four fields, or fewer, are what
// instruments do: the rest belongs to the last one.
Identity identity_of(std::string_view answer);
// As *IDN? would answer; empty when nothing is known.
std::string text_of(const Identity& identity);

// One way to one instrument.
struct Sighting {
  std::string host;      // its address, without brackets; empty: not on a network
  std::string resource;  // canonical; empty when this way gives none (a web page, a telnet port)
  std::string instance;  // the name under which it announces itself
  std::string seen_by;   // "mDNS _hislip._tcp", "VXI-11 broadcast", "USB"
  Identity identity;     // as it was announced
  std::string doubt;     // why the resource may not be reached, if there is a reason to think so
};

struct Unusable {
  std::string what;
  std::string why;
  std::string attempt;  // what to try
};

struct Seen {
  std::vector<Sighting> sightings;
  std::vector<Unusable> unusable;
};

// UTF-8 as it is; control characters (C1 and those that turn the direction of writing among them), quotes and bytes
// that are no UTF-8 are escaped as \xNN or \uNNNN. Cut at `most` bytes of the original, and said so.
std::string printable(std::string_view bytes, std::size_t most = 200);

}  // namespace eyelevel::find
