// SPDX-License-Identifier: Apache-2.0
#include "core/record/journal/event_json.hpp"

#include <boost/json/value.hpp>

#include <catch2/catch.hpp>

#include <set>
#include <string>

#include "core/record/journal/json_text.hpp"
#include "tests/core/record/sample_run.hpp"

using namespace eyelevel;
using namespace eyelevel::record;

namespace {

std::string written(const event::Event& e) { return text_of(to_json(e)); }

event::Event read_back(const event::Event& e) { return event_from_json(parse_json(written(e), "event").get_object()); }

}  // namespace

TEST_CASE("event JSON: every type of event survives writing and reading", "[record]") {
  std::set<std::size_t> types;
  for (const event::Event& e : test::sample_events("2030-01-07-3")) {
    CAPTURE(kind_of(e.body));
    types.insert(e.body.index());
    const event::Event back = read_back(e);
    CHECK(back.run == e.run);
    CHECK(back.number == e.number);
    CHECK(back.time_s == e.time_s);
    CHECK(back.utc == e.utc);
    REQUIRE(back.body.index() == e.body.index());
    // Samples are told apart from the JSON; with them put back, the second writing gives the same text.
    event::Event whole = back;
    if (auto* captured = std::get_if<event::Captured>(&whole.body); captured != nullptr && captured->waveform) {
      auto w = *captured->waveform;
      CHECK(w.size() == 0);
      w.codes = std::get<event::Captured>(e.body).waveform->codes;
      captured->waveform = std::make_shared<const signal::Waveform>(std::move(w));
      CHECK(captured->samples_left_out == 1000);
      captured->samples_left_out = 0;
    }
    CHECK(written(whole) == written(e));
  }
  CHECK(types.size() == std::variant_size_v<event::Body>);
}

TEST_CASE("event JSON: the fields of a reading are kept to the last digit", "[record]") {
  const auto e = test::sample_event("r", 10, event::Measured{{}, test::sample_reading()});
  const auto back = read_back(e);
  const auto& reading = std::get<event::Measured>(back.body).reading;
  const auto truth = test::sample_reading();
  CHECK(reading.value == truth.value);
  CHECK(reading.interval.degrees_of_freedom == truth.interval.degrees_of_freedom);
  REQUIRE(reading.contributions.size() == 2);
  CHECK(reading.contributions[0].type == 'A');
  CHECK(reading.contributions[1].shape == metrology::Shape::rectangular);
  CHECK(reading.contributions[1].effect == truth.contributions[1].effect);
  CHECK(std::isinf(reading.contributions[1].degrees_of_freedom));
  CHECK(reading.tried == truth.tried);
  CHECK(reading.limit->at_most == truth.limit->at_most);
  CHECK(reading.judgement == metrology::Judgement::pass);
  CHECK(reading.notes == truth.notes);
}

TEST_CASE("event JSON: raw bytes of an exchange come back byte for byte", "[record]") {
  std::string every_byte;
  for (int b = 0; b < 256; ++b) every_byte += static_cast<char>(b);
  event::BrokenOff broken;
  broken.error.received = every_byte;
  const auto back = read_back(test::sample_event("r", 1, broken));
  CHECK(std::get<event::BrokenOff>(back.body).error.received == every_byte);
}

TEST_CASE("event JSON: an answer that is no text does not stop the journal", "[record]") {
  const auto back = read_back(test::sample_event("r", 1, event::Answered{{}, "ok \xff", "operator"}));
  CHECK(std::get<event::Answered>(back.body).answer == "ok \xEF\xBF\xBD");
}

TEST_CASE("event JSON: a capture tells how many samples of which type there are", "[record]") {
  const auto e = test::sample_event("r", 7, event::Captured{{}, "pressed", "rf", 1, test::sample_waveform(1234), ""});
  const auto count = samples_of(to_json(e));
  CHECK(count.samples == 1234);
  CHECK(count.type == "int8");
  CHECK(samples_of(to_json(test::sample_event("r", 8, event::Noted{}))).samples == 0);
}

TEST_CASE("event JSON: an absent field keeps its usual value, a wrong one is named", "[record]") {
  const auto read = [](const std::string& text) { return event_from_json(parse_json(text, "event").get_object()); };
  const std::string head = R"({"version":1,"run":"r","number":5,"time_s":1,"utc":"2030-01-07T08:00:00.250Z",)";
  const auto e = read(head + R"("event":"noted","body":{}})");
  CHECK(std::get<event::Noted>(e.body).text.empty());
  CHECK(e.time_s == 1.0);
  CHECK_THROWS_WITH(read(head + R"("event":"noted","body":{"text":7}})"),
                    Catch::Contains("event 5 of run \"r\"") && Catch::Contains("\"text\": expected a text"));
  CHECK_THROWS_WITH(read(head + R"("event":"sang","body":{}})"), Catch::Contains("found \"sang\""));
  CHECK_THROWS_WITH(read(head + R"("event":"noted"})"), Catch::Contains("\"body\""));
  CHECK_THROWS_WITH(read(head + R"("event":"judged","body":{"judgement":"good"}})"),
                    Catch::Contains("one of pass, fail, undecided"));
  CHECK_THROWS_WITH(read(head + R"("event":"captured","body":{"waveform":{"type":"int12"}}})"),
                    Catch::Contains("int8, int16, float32"));
  CHECK_THROWS_WITH(read(head + R"("event":"captured","body":{"index":1e40}})"), Catch::Contains("a whole number"));
  CHECK_THROWS_WITH(read(R"({"version":2,"run":"r","number":5,"time_s":1,"utc":"2030-01-07T08:00:00.250Z"})"),
                    Catch::Contains("expected 1, found 2"));
}

// RFC 3339 form; the calendar is the one of the C++ library.
TEST_CASE("UTC text: reads back, sorts as time does, and refuses what is no time", "[record]") {
  using namespace std::chrono;
  const base::UtcTime t = sys_days(year(2032) / February / 29) + 23h + 59min + 59s + 999ms;
  CHECK(utc_text(t) == "2032-02-29T23:59:59.999Z");
  CHECK(utc_from_text(utc_text(t)) == t);
  CHECK(utc_text(t) < utc_text(t + 1ms));
  for (const char* bad : {"", "2030-01-07", "2031-02-29T00:00:00.000Z", "2030-01-07T24:00:00.000Z",
                          "2030-01-07T08:00:00.000+", "2030-01-07T-8:00:00.000Z", "2030-13-07T08:00:00.000Z"}) {
    CAPTURE(bad);
    CHECK_THROWS_WITH(utc_from_text(bad), Catch::Contains("2030-01-07T08:00:00.000Z"));
  }
}
