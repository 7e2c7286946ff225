// SPDX-License-Identifier: Apache-2.0
// From sightings to instruments. Before anybody is asked: what announces itself under one name at one host is one
// instrument, and a nameless sighting (VXI-11 broadcast) belongs to the host's only one. After they were asked: equal
// serial numbers are one instrument, seen by two ways; without serial numbers, the host decides, unless both offer the
// same service at different ports. No I/O.
#pragma once

#include <string>
#include <vector>

#include "instruments/find/sighting.hpp"

namespace eyelevel::find {

struct Candidate {
  std::string instance;                // empty: never announced
  std::vector<std::string> hosts;      // each once
  std::vector<std::string> resources;  // best first: USB, HiSLIP, VXI-11, socket, serial; each once
  std::vector<std::string> seen_by;    // each once
  Identity identity;
  std::string doubt;
};

std::vector<Candidate> gather(const std::vector<Sighting>& sightings);
std::vector<Candidate> merge(std::vector<Candidate> candidates);

}  // namespace eyelevel::find
