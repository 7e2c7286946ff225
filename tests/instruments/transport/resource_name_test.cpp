// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/resource_name.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;

TEST_CASE("resource names: every spelling of one resource has one canonical form", "[transport]") {
  // VPP-4.3, 4.3.1; the examples of the interface facts, section 1.
  const std::pair<const char*, const char*> rows[] = {
      {"TCPIP::h::INSTR", "TCPIP0::h::inst0::INSTR"},
      {"tcpip0::h::inst0::instr", "TCPIP0::h::inst0::INSTR"},
      {"TCPIP0::h", "TCPIP0::h::inst0::INSTR"},
      {"TCPIP::h::INST1", "TCPIP0::h::inst1::INSTR"},
      {"TCPIP::h::hislip0", "TCPIP0::h::hislip0::INSTR"},
      {"TCPIP::h::HiSLIP0,4880::INSTR", "TCPIP0::h::hislip0::INSTR"},
      {"TCPIP::h::hislip1,5000::INSTR", "TCPIP0::h::hislip1,5000::INSTR"},
      {"TCPIP0::[fe80::1]::hislip0::INSTR", "TCPIP0::[fe80::1]::hislip0::INSTR"},
      {"tcpip::[::1]::5025::socket", "TCPIP0::[::1]::5025::SOCKET"},
      {"TCPIP2::scope.local::5025::SOCKET", "TCPIP2::scope.local::5025::SOCKET"},
      {"TCPIP::127.0.0.1::1::SOCKET", "TCPIP0::127.0.0.1::1::SOCKET"},
      {"USB::0x1234::22136::SN 1::INSTR", "USB0::0x1234::0x5678::SN 1::0::INSTR"},
      {"usb0::0x12aB::0x0001::ab12::2", "USB0::0x12AB::0x0001::ab12::2::INSTR"},
      {"ASRL3", "ASRL3::INSTR"},
      {"asrl3::instr", "ASRL3::INSTR"},
      {"ASRL/dev/ttyUSB0::instr", "ASRL/dev/ttyUSB0::INSTR"},  // ours: a path in the place of the number
      {"asrl/dev/serial/by-id/Usb-1", "ASRL/dev/serial/by-id/Usb-1::INSTR"},
      {"usb/dev/usbtmc0", "USB/dev/usbtmc0::INSTR"},  // ours: a node of the system's driver
      {"USB/dev/usbtmc12::instr", "USB/dev/usbtmc12::INSTR"},
      {"GPIB::7", "GPIB0::7::INSTR"},
      {"gpib1::7::0::instr", "GPIB1::7::0::INSTR"},
      {"MEMORY::scope", "MEMORY0::scope::INSTR"},
      {"plugin::shelf::top", "PLUGIN0::shelf::top::INSTR"},  // ours: a plugin's transport and its address
      {"PLUGIN0::shelf::INSTR", "PLUGIN0::shelf::INSTR::INSTR"},
      {"memory0::scope::INSTR", "MEMORY0::scope::INSTR"},
  };
  for (const auto& [text, canonical] : rows) {
    CAPTURE(text);
    const auto name = parse_resource_name(text);
    CHECK(name.canonical() == canonical);
    CHECK(parse_resource_name(canonical).canonical() == canonical);
  }
}

TEST_CASE("resource names: the parts are where they belong", "[transport]") {
  const auto socket = parse_resource_name("TCPIP::[fe80::1]::5025::SOCKET");
  CHECK(socket.carrier == Carrier::socket);
  CHECK(socket.host == "[fe80::1]");
  CHECK(socket.port == 5025);
  const auto hislip = parse_resource_name("TCPIP::h::hislip1,5000");
  CHECK(hislip.carrier == Carrier::hislip);
  CHECK(hislip.device == "hislip1");
  CHECK(hislip.port == 5000);
  CHECK(parse_resource_name("TCPIP::h").carrier == Carrier::vxi11);
  CHECK(parse_resource_name("MEMORY::Scope").host == "Scope");
}

TEST_CASE("resource names: what is none says why and what would be right", "[transport]") {
  const std::pair<const char*, const char*> rows[] = {
      {"", "is no way to reach"},
      {"PXI0::7::INSTR", "\"PXI0\" is no way to reach an instrument"},
      {"GPIB0::31::INSTR", "a GPIB instrument is written with its address, from 0 to 30"},
      {"GPIB0", "a GPIB instrument is written with its address"},
      {"GPIB0::1::2::3::INSTR", "a GPIB instrument is written with its address"},
      {"TCPIP", "there is no host"},
      {"TCPIP::::5025::SOCKET", "there is no host"},
      {"TCPIP::h::5025", "a port needs the word SOCKET after it"},
      {"TCPIP::h::SOCKET", "a socket is written host, port, SOCKET"},
      {"TCPIP::h::0::SOCKET", "no number from 1 to 65535"},
      {"TCPIP::h::65536::SOCKET", "no number from 1 to 65535"},
      {"TCPIP::h::50x::SOCKET", "no number from 1 to 65535"},
      {"TCPIP::h::hislip0,0", "no number from 1 to 65535"},
      {"TCPIP::a::b::c::d::e", "too many parts"},
      {"USB::1::2", "vendor, product, serial"},
      {"USB::0x12345::2::s", "vendor \"0x12345\""},
      {"USB::1::2::a*b", "serial number"},
      {"ASRL", "needs its number"},
      {"ASRL0::INSTR", "needs its number"},
      {"ASRLx::INSTR", "needs its number"},
      {"ASRL/::INSTR", "path of the serial port"},
      {"ASRL/dev/a b::INSTR", "path of the serial port"},
      {"USB/::INSTR", "path of the USB instrument"},
      {"USB/dev/usbtmc0::0::INSTR", "nothing but it"},
      {"ASRL1::x", "nothing but its number"},
      {"MEMORY", "written with its name"},
      {"MEMORY::a b", "written with its name"},
      {"TCPIP999999999999::h", "is no way to reach"},
  };
  for (const auto& [text, why] : rows) {
    CAPTURE(text);
    try {
      parse_resource_name(text);
      FAIL("was accepted");
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::bad_input);
      CHECK_THAT(error.record().message, Catch::Contains(why));
      CHECK_FALSE(error.record().expected.empty());
    }
  }
  CHECK_THROWS_AS(parse_resource_name(std::string(100000, 'T')), base::Error);
}
