// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/usb_quirks.hpp"

#include <catch2/catch.hpp>

#include <string>

#include "instruments/phrasebook/phrasebook.hpp"

using namespace eyelevel;

namespace {

const std::string relays =
    "phrasebook: mine\nabout: mine\nkind: relay box\nidentity: \"*IDN\"\nclear status: \"*CLS\"\ncompleted: \"*OPC\"\n"
    "next error: SYSTem:ERRor\nclose: ROUTe:CLOSe\nopen all: ROUTe:OPEN:ALL\n";

std::string said(const std::string& text) {
  const auto read = phrasebook::read_phrasebook(yaml::load_text("p.yaml", text));
  std::string all;
  for (const auto& m : read.mistakes.list()) all += (all.empty() ? "" : "\n") + yaml::print(m);
  return all;
}

}  // namespace

TEST_CASE("usb quirks: what a family needs over USB is read, and is as the standard has it where nothing is said",
          "[phrasebook]") {
  const auto of = [](const std::string& usb) {
    return phrasebook::read_phrasebook(yaml::load_text("p.yaml", relays + usb)).phrasebook.usb;
  };
  const transport::usbtmc::Quirks usual;
  CHECK(of("").most_request_bytes == usual.most_request_bytes);
  CHECK_FALSE(of("").no_clear);
  const auto all = of(
      "usb:\n  header once: yes\n  end too early: yes\n  end missing: yes\n  wrong tag: yes\n  wrong message id: yes\n"
      "  more than asked: yes\n  short packets inside: yes\n  no capabilities: yes\n  no status request: yes\n"
      "  status in answer: yes\n  clear on open: yes\n  no clear: yes\n  no reset: yes\n  assert remote: yes\n"
      "  bytes per request: 1024\n  bytes per transfer: 64\n  pause between messages: 20 ms\n");
  CHECK(all.header_once);
  CHECK(all.eom_too_early);
  CHECK(all.eom_missing);
  CHECK(all.wrong_tag);
  CHECK(all.wrong_msg_id);
  CHECK(all.more_than_asked);
  CHECK(all.short_packets_inside);
  CHECK(all.no_capabilities);
  CHECK(all.no_status_request);
  CHECK(all.status_in_answer);
  CHECK(all.clear_on_open);
  CHECK(all.no_clear);
  CHECK(all.no_reset);
  CHECK(all.assert_remote);
  CHECK(all.most_request_bytes == 1024);
  CHECK(all.most_out_bytes == 64);
  CHECK(all.pause_between_messages == std::chrono::milliseconds(20));
  CHECK_FALSE(of("usb: { no clear: no }\n").no_clear);
}

TEST_CASE("usb quirks: mistakes in what a family needs over USB", "[phrasebook]") {
  CHECK(said(relays + "usb: { no clears: yes }\n") ==
        "p.yaml:10:8: unknown key 'no clears' in what is needed over USB; write 'no clear'");
  CHECK(said(relays + "usb: { bytes per request: 0 }\n") ==
        "p.yaml:10:27: 'bytes per request': 0 bytes; write a number from 4 to 2147483647");
  CHECK(said(relays + "usb: { bytes per transfer: 9999999999 }\n") ==
        "p.yaml:10:28: 'bytes per transfer': 9999999999 bytes; write a number from 4 to 2147483647");
  CHECK(said(relays + "usb: { pause between messages: 1 h }\n") ==
        "p.yaml:10:32: 'pause between messages': expected 0 s to 10 s; write pause between messages: 20 ms");
}
