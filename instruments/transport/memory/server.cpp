// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/memory/server.hpp"

#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::memory {
namespace {

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

}  // namespace

void MemoryServer::add(std::string name, std::shared_ptr<Device> device) {
  auto key = lower(name);
  devices_.insert_or_assign(std::move(key), Entry{std::move(name), std::move(device)});
}

void MemoryServer::remove(std::string_view name) { devices_.erase(lower(name)); }

std::shared_ptr<Device> MemoryServer::find(std::string_view name) const {
  const auto at = devices_.find(lower(name));
  return at == devices_.end() ? nullptr : at->second.device;
}

std::vector<std::string> MemoryServer::names() const {
  std::vector<std::string> all;
  all.reserve(devices_.size());
  for (const auto& [key, entry] : devices_) all.push_back(entry.name);
  return all;
}

std::string resource_name(std::string_view instrument) {
  ResourceName name;
  name.carrier = Carrier::memory;
  name.host = std::string(instrument);
  return name.canonical();
}

}  // namespace eyelevel::transport::memory
