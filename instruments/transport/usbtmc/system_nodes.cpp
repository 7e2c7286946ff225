// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/system_nodes.hpp"

#include <unistd.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string_view>
#include <system_error>
#include <utility>

namespace eyelevel::transport::usbtmc {
namespace {

namespace fs = std::filesystem;

std::string text_in(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(stream), {}};
  while (!text.empty() && (text.back() == '\n' || text.back() == ' ')) text.pop_back();
  return text;
}

unsigned hexadecimal_in(const fs::path& file) {
  const auto text = text_in(file);
  unsigned value = 0;
  std::from_chars(text.data(), text.data() + text.size(), value, 16);
  return value;
}

// The directory of the interface that belongs to a node of /dev.
fs::path interface_of(const std::string& path) {
  return fs::path("/sys/class/usbmisc") / fs::path(path).filename() / "device";
}

}  // namespace

Endpoints endpoints_of_node(const std::string& path) {
  const auto interface = interface_of(path);
  Endpoints ends{.interface = static_cast<int>(hexadecimal_in(interface / "bInterfaceNumber")),
                 .bulk_out = 0,
                 .bulk_in = 0,
                 .is_usb488 = hexadecimal_in(interface / "bInterfaceProtocol") == 1,
                 .status_in_answer = true};
  std::error_code missing;
  for (const auto& entry : fs::directory_iterator(interface, missing)) {
    if (!entry.path().filename().string().starts_with("ep_")) continue;
    const auto address = static_cast<std::uint8_t>(hexadecimal_in(entry.path() / "bEndpointAddress"));
    const auto packet = static_cast<std::size_t>(hexadecimal_in(entry.path() / "wMaxPacketSize") & 0x7FFU);
    const bool in = (address & 0x80U) != 0;
    const auto type = text_in(entry.path() / "type");
    if (type == "Bulk") (in ? ends.bulk_in : ends.bulk_out) = address;
    if (type == "Bulk" && in) ends.bulk_in_packet_bytes = packet;
    if (type == "Interrupt" && in) ends.interrupt_in = address;
  }
  return ends;
}

std::vector<SystemNode> system_nodes() {
  std::vector<SystemNode> nodes;
  std::error_code missing;
  for (const auto& entry : fs::directory_iterator("/sys/class/usbmisc", missing)) {
    const auto file = entry.path().filename().string();
    if (!file.starts_with("usbtmc")) continue;
    SystemNode node;
    node.path = "/dev/" + file;
    const auto interface = interface_of(node.path);
    const auto directory = fs::canonical(interface, missing);  // .../1-4.2/1-4.2:1.0
    const auto device = directory.parent_path();
    node.vendor = static_cast<std::uint16_t>(hexadecimal_in(device / "idVendor"));
    node.product = static_cast<std::uint16_t>(hexadecimal_in(device / "idProduct"));
    node.serial = text_in(device / "serial");
    node.interface = static_cast<int>(hexadecimal_in(directory / "bInterfaceNumber"));
    node.place = device.filename().string();
    node.usable = ::access(node.path.c_str(), R_OK | W_OK) == 0;
    nodes.push_back(std::move(node));
  }
  std::sort(nodes.begin(), nodes.end(), [](const auto& a, const auto& b) { return a.path < b.path; });
  return nodes;
}

std::string system_node_of(const ResourceName& name) {
  const auto same = [](std::string_view a, std::string_view b) {
    const auto equal = [](unsigned char x, unsigned char y) { return std::tolower(x) == std::tolower(y); };
    return std::equal(a.begin(), a.end(), b.begin(), b.end(), equal);
  };
  for (const auto& node : system_nodes()) {
    const bool named =
        name.serial.starts_with('@') ? name.serial.substr(1) == node.place : same(name.serial, node.serial);
    const bool wanted = name.interface == 0 || name.interface == node.interface;
    if (named && wanted && node.usable && node.vendor == name.vendor && node.product == name.product) return node.path;
  }
  return {};
}

}  // namespace eyelevel::transport::usbtmc
