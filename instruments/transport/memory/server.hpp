// SPDX-License-Identifier: Apache-2.0
// The server half of the memory transport: the simulated instruments of this process by name. Simulated time goes with
// this transport only. A name is a place on one bench; whoever rehearses makes one MemoryServer for each bench.
#pragma once

#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "instruments/transport/device.hpp"

namespace eyelevel::transport::memory {

class MemoryServer {
 public:
  // Replaces what had the name; conversations that are open keep the old device.
  void add(std::string name, std::shared_ptr<Device> device);
  void remove(std::string_view name);
  // Without regard to case, as resource names are compared; empty when there is none.
  std::shared_ptr<Device> find(std::string_view name) const;
  std::vector<std::string> names() const;

 private:
  struct Entry {
    std::string name;
    std::shared_ptr<Device> device;
  };
  std::map<std::string, Entry, std::less<>> devices_;  // by lower-case name
};

// "MEMORY0::scope::INSTR"
std::string resource_name(std::string_view instrument);

}  // namespace eyelevel::transport::memory
