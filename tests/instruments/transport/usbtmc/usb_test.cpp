// SPDX-License-Identifier: Apache-2.0
// libusb as it is, over a mocked port: finding, opening, and everything that can be in the way of it.
#include "instruments/transport/usbtmc/usb.hpp"

#include <catch2/catch.hpp>

#include <sys/stat.h>

#include <fstream>
#include <iterator>

#include "tests/instruments/transport/usbtmc/mocked_port.hpp"
#include "tests/instruments/transport/usbtmc/simulated_port.hpp"

using namespace eyelevel;
using namespace eyelevel::transport;
using namespace eyelevel::transport::usbtmc;
using namespace std::chrono_literals;

namespace {

struct Bench {
  explicit Bench(const test::MockedDevice& what = {}) { plug_in(what); }

  void plug_in(const test::MockedDevice& what) {
    server = std::make_shared<UsbtmcServer>(wall.loop.get_executor(), device, ServerOptions{});
    port.plug_in(simulated_pipe(server), what);
  }

  test::Wall wall;
  std::shared_ptr<test::UsbInstrument> device = std::make_shared<test::UsbInstrument>(*wall.timeline);
  std::shared_ptr<UsbtmcServer> server;
  test::MockedPort port{wall.loop.get_executor()};
  std::shared_ptr<Usb> usb = std::make_shared<Usb>();
};

std::vector<FoundInterface> found(Bench& bench) {
  std::vector<FoundInterface> all;
  auto list = [](std::shared_ptr<Usb> usb, std::vector<FoundInterface>& into) -> task<> {
    into = co_await list_interfaces(std::move(usb));
  };
  bench.wall.run(list(bench.usb, all));
  return all;
}

std::optional<base::ErrorRecord> refused(Bench& bench, const std::string& resource) {
  std::optional<base::ErrorRecord> record;
  auto open = [](std::shared_ptr<Usb> usb, ResourceName name, std::optional<base::ErrorRecord>& error) -> task<> {
    try {
      const auto pipe = co_await open_interface(std::move(usb), std::move(name));
    } catch (const TransportError& e) {
      error = e.record();
    }
  };
  bench.wall.run(open(bench.usb, parse_resource_name(resource), record));
  return record;
}

// Root may open everything; whoever tests as root is nobody for a while.
class WithoutPermission {
 public:
  explicit WithoutPermission(const test::MockedPort& port) : was_(geteuid()) {
    const auto root = port.root();
    REQUIRE(chmod(root.c_str(), 0755) == 0);
    REQUIRE(chmod((root + test::MockedPort::node).c_str(), 0) == 0);
    // Its own socket umockdev wants to reach all the same.
    REQUIRE(chmod((root + "/ioctl" + test::MockedPort::node).c_str(), 0777) == 0);
    if (was_ == 0) REQUIRE(seteuid(65534) == 0);
  }
  WithoutPermission(const WithoutPermission&) = delete;
  WithoutPermission& operator=(const WithoutPermission&) = delete;
  ~WithoutPermission() {
    if (seteuid(was_) != 0) FAIL_CHECK("the user could not be changed back");
  }

 private:
  uid_t was_;
};

}  // namespace

TEST_CASE("usb: an instrument that is plugged in is listed with its strings, its place and the name that opens it",
          "[usbtmc]") {
  Bench bench;
  const auto all = found(bench);
  REQUIRE(all.size() == 1);
  CHECK(all[0].vendor == 0x1234);
  CHECK(all[0].product == 0x5678);
  CHECK(all[0].is_usb488);
  CHECK(all[0].maker == "Eyelevel");
  CHECK(all[0].model == "Mocked instrument");
  CHECK(all[0].serial == "EY-0001");
  CHECK(all[0].place == "1-1");
  CHECK(all[0].resource.canonical() == "USB0::0x1234::0x5678::EY-0001::0::INSTR");
  CHECK(all[0].trouble.empty());
  CHECK(bench.port.calls().empty());  // nothing is claimed, reset or configured
}

TEST_CASE("usb: a serial that cannot stand in a resource name is replaced by the place", "[usbtmc]") {
  for (const char* serial : {"", "a/b", "a:b", "*"}) {
    CAPTURE(serial);
    Bench bench({.serial = serial});
    const auto all = found(bench);
    REQUIRE(all.size() == 1);
    CHECK(all[0].resource.canonical() == "USB0::0x1234::0x5678::@1-1::0::INSTR");
    CHECK_FALSE(refused(bench, all[0].resource.canonical()));
  }
  CHECK(is_usable_serial("EY-0001 B"));
  CHECK_FALSE(is_usable_serial(" EY"));
  CHECK_FALSE(is_usable_serial("@1-1"));
}

TEST_CASE("usb: what is no USBTMC interface is not listed", "[usbtmc]") {
  Bench bench({.interface_class = {'\x08', '\x06', '\x50'}});
  CHECK(found(bench).empty());
  const auto error = refused(bench, "USB0::0x1234::0x5678::EY-0001::0::INSTR");
  REQUIRE(error);
  CHECK_THAT(error->message, Catch::Contains("no USBTMC interface (class FE, subclass 03)"));
}

TEST_CASE("usb: an instrument that is not there, by number, serial, place or interface, is told so", "[usbtmc]") {
  Bench bench;
  for (const char* resource : {"USB0::0x1234::0x5679::EY-0001::0::INSTR", "USB0::0x1235::0x5678::EY-0001::0::INSTR",
                               "USB0::0x1234::0x5678::EY-0002::0::INSTR", "USB0::0x1234::0x5678::@1-2::0::INSTR"}) {
    CAPTURE(resource);
    const auto error = refused(bench, resource);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::no_connection);
    CHECK(error->where == resource);
    CHECK_THAT(error->message, Catch::Contains("no such instrument is plugged in"));
  }
  const auto error = refused(bench, "USB0::0x1234::0x5678::EY-0001::3::INSTR");
  REQUIRE(error);
  CHECK_THAT(error->message, Catch::Contains("interface 3 is no USBTMC interface; these are: 0"));
  CHECK_FALSE(refused(bench, "USB0::0x1234::0x5678::ey-0001::0::INSTR"));  // without regard to case
}

TEST_CASE("usb: without permission the error gives the rule to install, and the list says so too", "[usbtmc]") {
  Bench bench;
  const WithoutPermission nobody(bench.port);
  const auto all = found(bench);
  REQUIRE(all.size() == 1);
  CHECK(all[0].serial == "EY-0001");  // from the system
  CHECK_THAT(all[0].trouble, Catch::Contains("no permission to use /dev/bus/usb/001/002"));
  CHECK_THAT(all[0].advice, Catch::Contains(udev_rule(0x1234, 0x5678)));
  const auto error = refused(bench, "USB0::0x1234::0x5678::EY-0001::0::INSTR");
  REQUIRE(error);
  CHECK_THAT(error->message, Catch::Contains("no permission to use /dev/bus/usb/001/002"));
  CHECK_THAT(error->advice, Catch::Contains("/etc/udev/rules.d/60-eyelevel-usbtmc.rules"));
  CHECK_THAT(error->advice, Catch::Contains(udev_rule(0x1234, 0x5678)));
}

TEST_CASE("usb: the rule names the instrument as the system writes it, and the shipped one names the class",
          "[usbtmc]") {
  CHECK(udev_rule(0x0ABC, 0x1) == R"(SUBSYSTEM=="usb", ATTR{idVendor}=="0abc", ATTR{idProduct}=="0001", )"
                                  R"(MODE="0660", GROUP="plugdev", TAG+="uaccess")");
  std::ifstream file("instruments/transport/usbtmc/60-eyelevel-usbtmc.rules");
  const std::string rules{std::istreambuf_iterator<char>(file), {}};
  CHECK_THAT(rules, Catch::Contains(R"(ENV{ID_USB_INTERFACES}=="*:fe03??:*")"));
  CHECK_THAT(rules, Catch::Contains(R"(MODE="0660", GROUP="plugdev", TAG+="uaccess")"));
}

TEST_CASE("usb: an instrument that another program uses is told so", "[usbtmc]") {
  Bench bench({.used_by_others = true});
  const auto error = refused(bench, "USB0::0x1234::0x5678::EY-0001::0::INSTR");
  REQUIRE(error);
  CHECK(error->message == "another program uses the instrument");
}

TEST_CASE("usb: a driver of the system is detached, and attached again after closing; nothing else is done",
          "[usbtmc]") {
  Bench bench({.driver = "usbtmc"});
  CHECK_FALSE(refused(bench, "USB0::0x1234::0x5678::EY-0001::0::INSTR"));
  bench.usb.reset();  // waits for the closing
  CHECK(bench.port.calls() == std::vector<std::string>{"detach", "claim", "release", "attach"});
}
