// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/resource_name.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <optional>
#include <vector>

#include "instruments/transport/error.hpp"

namespace eyelevel::transport {
namespace {

constexpr std::size_t most_name_bytes = 512;

constexpr std::string_view forms =
    "TCPIP::host::port::SOCKET, TCPIP::host::INSTR, TCPIP::host::hislip0::INSTR, USB::vendor::product::serial::INSTR, "
    "ASRL1::INSTR, GPIB::5::INSTR, PLUGIN::transport::address or MEMORY::name";

[[noreturn]] void refuse(std::string_view text, std::string_view why, std::string_view expected = forms) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_input;
  record.message = fmt::format("resource name \"{}\": {}", base::escaped(text, 80), why);
  record.expected = std::string(expected);
  record.advice = "correct the resource in the bench file";
  throw TransportError(std::move(record));
}

std::string upper(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return out;
}

std::string lower(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

// Between "::" outside square brackets (IPv6).
std::vector<std::string_view> split(std::string_view text) {
  std::vector<std::string_view> parts;
  std::size_t begin = 0;
  int depth = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '[') ++depth;
    if (text[i] == ']') --depth;
    if (depth <= 0 && text[i] == ':' && i + 1 < text.size() && text[i + 1] == ':') {
      parts.push_back(text.substr(begin, i - begin));
      begin = i + 2;
      ++i;
    }
  }
  parts.push_back(text.substr(begin));
  return parts;
}

std::optional<int> whole_number(std::string_view text, int most, int base = 10) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, base);
  if (text.empty() || error != std::errc() || end != text.data() + text.size() || value < 0 || value > most)
    return std::nullopt;
  return value;
}

// "TCPIP0" into "TCPIP" and 0.
bool keyword(std::string_view part, std::string_view word, int& board) {
  if (part.size() < word.size() || upper(part.substr(0, word.size())) != word) return false;
  const auto digits = part.substr(word.size());
  board = 0;
  if (digits.empty()) return true;
  const auto number = whole_number(digits, 65535);
  if (!number) return false;
  board = *number;
  return true;
}

std::uint16_t usb_number(std::string_view text, std::string_view part, std::string_view what) {
  const bool hexadecimal = part.starts_with("0x") || part.starts_with("0X");
  const auto number = hexadecimal ? whole_number(part.substr(2), 0xFFFF, 16) : whole_number(part, 0xFFFF);
  if (!number) refuse(text, fmt::format("{} \"{}\" is no number from 0 to 0xFFFF", what, base::escaped(part, 40)));
  return static_cast<std::uint16_t>(*number);
}

std::uint16_t port_number(std::string_view text, std::string_view part) {
  const auto port = whole_number(part, 65535);
  if (!port || *port == 0)
    refuse(text, fmt::format("port \"{}\" is no number from 1 to 65535", base::escaped(part, 40)));
  return static_cast<std::uint16_t>(*port);
}

bool is_host(std::string_view host) {
  if (host.empty() || host.size() > 255) return false;
  const bool bracketed = host.front() == '[';
  if (bracketed != (host.back() == ']') || (bracketed && host.size() < 4)) return false;
  return std::all_of(host.begin(), host.end(), [&](char c) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '[' || c == ']' || c == ':' || c == '%') return bracketed;
    return u > 0x20 && u < 0x7F && c != '"' && c != '\\' && c != ',';
  });
}

bool is_plain_name(std::string_view name) {
  return !name.empty() && std::all_of(name.begin(), name.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' || c == '_' ||
           c == '.';
  });
}

ResourceName parse_lan(std::string_view text, std::vector<std::string_view> parts, int board) {
  ResourceName name;
  name.board = board;
  if (parts.size() < 2 || !is_host(parts[1])) refuse(text, "there is no host after TCPIP::");
  name.host = std::string(parts[1]);
  const std::string last = upper(parts.back());
  if (last == "SOCKET") {
    if (parts.size() != 4) refuse(text, "a socket is written host, port, SOCKET", "TCPIP::host::port::SOCKET");
    name.carrier = Carrier::socket;
    name.port = port_number(text, parts[2]);
    return name;
  }
  if (parts.size() > 2 && last == "INSTR") parts.pop_back();
  if (parts.size() > 3)
    refuse(text, fmt::format("too many parts, or \"{}\" is not SOCKET or INSTR", base::escaped(last)));
  std::string device = parts.size() == 3 ? lower(parts[2]) : "inst0";
  name.carrier = device.starts_with("hislip") ? Carrier::hislip : Carrier::vxi11;
  if (name.carrier == Carrier::hislip) {
    name.port = 4880;
    if (const auto comma = device.find(','); comma != std::string::npos) {
      name.port = port_number(text, std::string_view(device).substr(comma + 1));
      device.resize(comma);
    }
  }
  const bool printable =
      std::all_of(device.begin(), device.end(), [](char c) { return c > 0x20 && c < 0x7F && c != ':'; });
  if (device.empty() || device.size() > 256 || !printable) refuse(text, "the LAN device name is empty or cannot be");
  if (parts.size() == 3 && whole_number(parts[2], 65535))
    refuse(text, "a port needs the word SOCKET after it", "TCPIP::host::port::SOCKET");
  name.device = device;
  return name;
}

ResourceName parse_usb(std::string_view text, std::vector<std::string_view> parts, int board) {
  ResourceName name;
  name.carrier = Carrier::usbtmc;
  name.board = board;
  if (parts.size() > 4 && upper(parts.back()) == "INSTR") parts.pop_back();
  if (parts.size() < 4 || parts.size() > 5)
    refuse(text, "a USB instrument is written vendor, product, serial", "USB::0x1234::0x5678::serial::INSTR");
  name.vendor = usb_number(text, parts[1], "vendor");
  name.product = usb_number(text, parts[2], "product");
  name.serial = std::string(parts[3]);
  // USBTMC 1.0, Table 45.
  const bool legal = std::all_of(name.serial.begin(), name.serial.end(), [](char c) {
    return c >= 0x20 && c < 0x7F && std::string_view("\"*/:?\\").find(c) == std::string_view::npos;
  });
  if (name.serial.empty() || !legal || name.serial.front() == ' ' || name.serial.back() == ' ')
    refuse(text, "the serial number is empty or holds what a serial number cannot");
  if (parts.size() == 5) {
    const auto interface = whole_number(parts[4], 255);
    if (!interface) refuse(text, "the USB interface is no number from 0 to 255");
    name.interface = *interface;
  }
  return name;
}

// "/dev/usbtmc0" behind the keyword.
std::string path_in_dev(std::string_view text, std::string_view path, std::string_view what) {
  const bool printable = std::all_of(path.begin(), path.end(), [](char c) { return c > 0x20 && c < 0x7F; });
  if (path.size() < 2 || path.ends_with('/') || !printable)
    refuse(text, fmt::format("the path of the {} cannot be", what));
  return std::string(path);
}

ResourceName parse_system_usb(std::string_view text, const std::vector<std::string_view>& parts) {
  ResourceName name;
  name.carrier = Carrier::usbtmc;
  name.host = path_in_dev(text, parts[0].substr(3), "USB instrument");
  if (parts.size() > 2 || (parts.size() == 2 && upper(parts[1]) != "INSTR"))
    refuse(text, "a USB instrument with a path has nothing but it", "USB/dev/usbtmc0::INSTR");
  return name;
}

ResourceName parse_serial(std::string_view text, const std::vector<std::string_view>& parts) {
  ResourceName name;
  name.carrier = Carrier::serial;
  const auto port = parts[0].substr(4);
  if (port.starts_with('/')) {
    name.host = path_in_dev(text, port, "serial port");
  } else if (!keyword(parts[0], "ASRL", name.board) || name.board == 0) {
    refuse(text, "a serial port needs its number from 1 on, or its path", "ASRL1::INSTR");
  }
  if (parts.size() > 2 || (parts.size() == 2 && upper(parts[1]) != "INSTR"))
    refuse(text, "a serial port has nothing but its number", "ASRL1::INSTR");
  return name;
}

// IEEE 488.1: primary and secondary addresses 0 to 30.
ResourceName parse_gpib(std::string_view text, std::vector<std::string_view> parts, int board) {
  ResourceName name;
  name.carrier = Carrier::gpib;
  name.board = board;
  if (parts.size() > 2 && upper(parts.back()) == "INSTR") parts.pop_back();
  const auto primary = parts.size() < 2 ? std::nullopt : whole_number(parts[1], 30);
  const auto secondary = parts.size() < 3 ? std::optional(-1) : whole_number(parts[2], 30);
  if (!primary || !secondary || parts.size() > 3)
    refuse(text, "a GPIB instrument is written with its address, from 0 to 30, and its secondary one, if it has one",
           "GPIB::5::INSTR");
  name.primary = *primary;
  name.secondary = *secondary;
  return name;
}

// Names of transports may hold spaces, so that one is written as it is declared.
ResourceName parse_plugin(std::string_view text, const std::vector<std::string_view>& parts, int board) {
  ResourceName name;
  name.carrier = Carrier::plugin;
  name.board = board;
  const bool with_class = parts.size() == 4 && upper(parts[3]) == "INSTR";
  const auto is_legible = [](std::string_view part) {
    return !part.empty() && std::all_of(part.begin(), part.end(), [](char c) {
      return c >= 0x20 && c < 0x7F && c != ':' && c != '[' && c != ']';
    });
  };
  if (!(parts.size() == 3 || with_class) || !is_legible(parts[1]) || !is_legible(parts[2]))
    refuse(text, "a plugin's transport is written with its name and an address", "PLUGIN::transport::address");
  name.host = std::string(parts[1]);
  name.device = std::string(parts[2]);
  return name;
}

}  // namespace

std::string_view name_of(Carrier carrier) {
  switch (carrier) {
    case Carrier::memory: return "memory";
    case Carrier::socket: return "socket";
    case Carrier::vxi11: return "vxi11";
    case Carrier::hislip: return "hislip";
    case Carrier::usbtmc: return "usbtmc";
    case Carrier::serial: return "serial";
    case Carrier::gpib: return "gpib";
    case Carrier::plugin: return "plugin";
  }
  return "socket";
}

std::string ResourceName::canonical() const {
  switch (carrier) {
    case Carrier::memory: return fmt::format("MEMORY{}::{}::INSTR", board, host);
    case Carrier::socket: return fmt::format("TCPIP{}::{}::{}::SOCKET", board, host, port);
    case Carrier::vxi11: return fmt::format("TCPIP{}::{}::{}::INSTR", board, host, device);
    case Carrier::hislip:
      if (port == 4880) return fmt::format("TCPIP{}::{}::{}::INSTR", board, host, device);
      return fmt::format("TCPIP{}::{}::{},{}::INSTR", board, host, device, port);
    case Carrier::usbtmc:
      if (!host.empty()) return fmt::format("USB{}::INSTR", host);
      return fmt::format("USB{}::0x{:04X}::0x{:04X}::{}::{}::INSTR", board, vendor, product, serial, interface);
    case Carrier::plugin: return fmt::format("PLUGIN{}::{}::{}::INSTR", board, host, device);
    case Carrier::serial:
      return host.empty() ? fmt::format("ASRL{}::INSTR", board) : fmt::format("ASRL{}::INSTR", host);
    case Carrier::gpib:
      if (secondary < 0) return fmt::format("GPIB{}::{}::INSTR", board, primary);
      return fmt::format("GPIB{}::{}::{}::INSTR", board, primary, secondary);
  }
  return {};
}

std::string ResourceName::path() const { return host.empty() ? fmt::format("/dev/ttyS{}", board - 1) : host; }

ResourceName parse_resource_name(std::string_view text) {
  if (text.size() > most_name_bytes) refuse(text, fmt::format("is longer than {} bytes", most_name_bytes));
  auto parts = split(text);
  ResourceName name;
  if (keyword(parts[0], "TCPIP", name.board)) return parse_lan(text, std::move(parts), name.board);
  if (keyword(parts[0], "USB", name.board)) return parse_usb(text, std::move(parts), name.board);
  if (upper(parts[0].substr(0, 4)) == "USB/") return parse_system_usb(text, parts);
  if (upper(parts[0].substr(0, 4)) == "ASRL") return parse_serial(text, parts);
  if (keyword(parts[0], "GPIB", name.board)) return parse_gpib(text, std::move(parts), name.board);
  if (keyword(parts[0], "PLUGIN", name.board)) return parse_plugin(text, parts, name.board);
  if (keyword(parts[0], "MEMORY", name.board)) {
    name.carrier = Carrier::memory;
    const bool with_class = parts.size() == 3 && upper(parts[2]) == "INSTR";
    if (parts.size() < 2 || !(parts.size() == 2 || with_class) || !is_plain_name(parts[1]))
      refuse(text, "a simulated instrument is written with its name", "MEMORY::scope");
    name.host = std::string(parts[1]);
    return name;
  }
  refuse(text, fmt::format("\"{}\" is no way to reach an instrument", base::escaped(parts[0], 40)));
}

}  // namespace eyelevel::transport
