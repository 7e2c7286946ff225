// SPDX-License-Identifier: Apache-2.0
#include <catch2/catch.hpp>

#include <filesystem>
#include <fstream>
#include <string>

#include "instruments/find/serial_ports.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::find;
namespace fs = std::filesystem;

namespace {

struct Folder {
  test::TemporaryFolder folder;
  const fs::path& path = folder.path();

  void put(const std::string& name) const {
    fs::create_directories((path / name).parent_path());
    std::ofstream(path / name) << "";
  }
};

}  // namespace

TEST_CASE("serial ports: adapters by device name, by the name that stays where there is one", "[find]") {
  const Folder dev;
  CHECK(serial_ports(dev.path, true).sightings.empty());
  for (const auto* name : {"ttyUSB1", "ttyACM0", "ttyS0", "tty", "null"}) dev.put(name);
  auto seen = serial_ports(dev.path, true);
  REQUIRE(seen.sightings.size() == 2);
  CHECK(seen.sightings[0].resource == "ASRL" + (dev.path / "ttyACM0").string() + "::INSTR");
  CHECK(seen.sightings[1].resource == "ASRL" + (dev.path / "ttyUSB1").string() + "::INSTR");
  dev.put("serial/by-id/usb-adapter_7-if00-port0");
  seen = serial_ports(dev.path, true);
  REQUIRE(seen.sightings.size() == 1);
  CHECK(seen.sightings[0].resource.find("by-id/usb-adapter_7") != std::string::npos);
  CHECK(seen.unusable.empty());
}

TEST_CASE("serial ports: nobody is asked without request; the port is told with how to ask", "[find]") {
  const Folder dev;
  dev.put("ttyUSB0");
  const auto seen = serial_ports(dev.path, false);
  CHECK(seen.sightings.empty());
  REQUIRE(seen.unusable.size() == 1);
  CHECK(seen.unusable[0].attempt.find("--ask-serial") != std::string::npos);
}
