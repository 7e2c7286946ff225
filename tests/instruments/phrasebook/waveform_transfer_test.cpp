// SPDX-License-Identifier: Apache-2.0
// The exchange of a record that comes as codes, in parts; the floats of the standard are in oscilloscope_test.cpp.
#include "instruments/phrasebook/waveform_transfer.hpp"

#include "tests/support/scripted_driver.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

using test::no_error;

struct Fixture {
  explicit Fixture(const std::string& name = "block-with-numbered-header")
      : book(test::standard_phrasebook(name)), phrases(std::get<phrasebook::OscilloscopePhrases>(book.phrases)) {
    phrases.layout.bits = 8;
    phrases.layout.points_per_read = 2;
  }

  static task<> do_agree(Fixture& f) { co_await f.transfer.agree(f.talk.deadline(5s)); }
  static task<> do_fetch(Fixture& f) { co_await f.transfer.fetch({1, 3, 1e-6}, f.waveform, f.talk.deadline(5s)); }
  std::string run(task<> work) {
    try {
      sim.run(std::move(work));
    } catch (const base::Error& error) {
      return error.record().message;
    }
    CHECK(script.done());
    return "";
  }

  test::Simulated sim;
  test::Script script;
  phrasebook::Phrasebook book;
  phrasebook::OscilloscopePhrases phrases;
  phrasebook::Conversation talk{
      *sim.timeline,
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)),
      book.common};
  phrasebook::WaveformTransfer transfer{talk, phrases};
  signal::Waveform waveform;
};

const std::string header = "0,0,3,1,1.0E-6,0,0,1.0E-2,1.5,128";

}  // namespace

TEST_CASE("waveform transfer: the form of codes is a word that is set and proved", "[phrasebook]") {
  Fixture f;
  f.script.add(":RECord:FORMat WORD;:RECord:BORDer SWAPped");
  f.script.add(":RECord:FORMat?;:RECord:BORDer?;:SYSTem:ERRor?", "BYTE;SWAP" + no_error);
  CHECK(f.run(Fixture::do_agree(f)) == "data format: asked WORD, the instrument says BYTE");
  Fixture fixed;
  fixed.phrases.byte_order.clear();
  fixed.script.add(":RECord:FORMat WORD");
  fixed.script.add(":RECord:FORMat?;:SYSTem:ERRor?", "WORD" + no_error);
  CHECK(fixed.run(Fixture::do_agree(fixed)).empty());
}

TEST_CASE("waveform transfer: the header first, then part after part by their points", "[phrasebook]") {
  Fixture f;
  f.script.add(":RECord:PREamble?", header);
  f.script.add(":RECord:STARt 1;:RECord:STOP 2;:RECord:DATA?;:SYSTem:ERRor?", "#12\x80\x81" + no_error);
  f.script.add(":RECord:STARt 3;:RECord:STOP 3;:RECord:DATA?;:SYSTem:ERRor?", "#11\x7F" + no_error);
  CHECK(f.run(Fixture::do_fetch(f)).empty());
  REQUIRE(f.waveform.size() == 3);
  CHECK(f.waveform.view().volts(0) == Approx(1.5));
  CHECK(f.waveform.view().volts(1) == Approx(1.51));
  CHECK(f.waveform.view().volts(2) == Approx(1.49));
  // A family that counts from 0, and one that sends all at once.
  Fixture zero;
  zero.phrases.layout.first_point = 0;
  zero.phrases.layout.points_per_read = 0;
  zero.script.add(":RECord:PREamble?", header);
  zero.script.add(":RECord:STARt 0;:RECord:STOP 2;:RECord:DATA?;:SYSTem:ERRor?", "#13\x80\x81\x7F" + no_error);
  CHECK(zero.run(Fixture::do_fetch(zero)).empty());
  Fixture whole;
  whole.phrases.layout.points_per_read = 0;
  whole.phrases.first_point.clear();
  whole.phrases.last_point.clear();
  whole.script.add(":RECord:PREamble?", header);
  whole.script.add(":RECord:DATA?;:SYSTem:ERRor?", "#13\x80\x81\x7F" + no_error);
  CHECK(whole.run(Fixture::do_fetch(whole)).empty());
}

TEST_CASE("waveform transfer: a header of another record than was asked for is refused", "[phrasebook]") {
  for (const auto& [answer, says] : std::vector<std::pair<std::string, std::string>>{
           {"0,0,4,1,1.0E-6,0,0,1.0E-2,1.5,128", "expected 3 points, the waveform header says 4"},
           {"0,0,3,1,2.0E-6,0,0,1.0E-2,1.5,128", "expected an interval of 1 µs, the waveform header says 2 µs"},
           {"POINTS 3;INTERVAL 1E-6", "waveform header: points is field 3, but only 2 came"}}) {
    Fixture f;
    f.script.add(":RECord:PREamble?", answer);
    f.script.add(":SYSTem:ERRor?", "0,\"No error\"");
    CHECK(f.run(Fixture::do_fetch(f)) == says);
    CHECK(f.script.done());
  }
}

TEST_CASE("waveform transfer: a part of another size than asked is refused with its place", "[phrasebook]") {
  Fixture f;
  f.script.add(":RECord:PREamble?", header);
  f.script.add(":RECord:STARt 1;:RECord:STOP 2;:RECord:DATA?;:SYSTem:ERRor?", "#12\x80\x81" + no_error);
  f.script.add(":RECord:STARt 3;:RECord:STOP 3;:RECord:DATA?;:SYSTem:ERRor?", "#12\x7F\x7F" + no_error);
  CHECK(f.run(Fixture::do_fetch(f)) == "expected 1 codes of 1 bytes from point 3 on, 2 bytes came");
}
