// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/phrasebook.hpp"
#include "tests/support/mistakes.hpp"

#include <catch2/catch.hpp>

#include <string>

using namespace eyelevel;

namespace {

const std::string meter =
    "phrasebook: mine\nabout: mine\nkind: multimeter\nidentity: \"*IDN\"\nclear status: \"*CLS\"\ncompleted: \"*OPC\"\n"
    "next error: SYSTem:ERRor\nstop: ABORt\nmeasured quantity: SENSe:FUNCtion\nrange: SENSe:VOLTage:RANGe\n"
    "aperture: SENSe:VOLTage:APERture\ntrigger source: TRIGger:SOURce\nread: READ\ndc voltage: VOLTage[:DC]\n"
    "at once: IMMediate\n";

std::string said(const std::string& text) {
  return test::printed(phrasebook::read_phrasebook(yaml::load_text("p.yaml", text)).mistakes);
}

std::string with(std::string text, const std::string& from, const std::string& to) {
  return text.replace(text.find(from), from.size(), to);
}

}  // namespace

TEST_CASE("phrasebook: a good one is read", "[phrasebook]") {
  const auto read = phrasebook::read_phrasebook(yaml::load_text("p.yaml", meter));
  REQUIRE(read.mistakes.list().empty());
  CHECK(read.phrasebook.name == "mine");
  CHECK_FALSE(read.phrasebook.is_oscilloscope());
  CHECK(std::get<phrasebook::MultimeterPhrases>(read.phrasebook.phrases).range == "SENSe:VOLTage:RANGe");
  CHECK(read.phrasebook.common.identity == "*IDN");
}

TEST_CASE("phrasebook: it is told by its first key", "[phrasebook]") {
  CHECK(phrasebook::is_phrasebook(yaml::load_text("p.yaml", meter).root));
  CHECK_FALSE(phrasebook::is_phrasebook(yaml::load_text("p.yaml", "bench: b\n").root));
}

TEST_CASE("phrasebook: mistakes", "[phrasebook]") {
  CHECK(said(with(meter, "READ", "read me")) ==
        "p.yaml:13:7: 'read': 'read me' is no SCPI header or word; write read: READ");
  for (const char* bad : {"VOLT::RANG", "VOLTage<m>", "VOLT[:DC", "VOLT]", "VOLTage<n><n>", "READ?", "read", "9"})
    CHECK(said(with(meter, "read: READ", "read: " + std::string(bad))) ==
          "p.yaml:13:7: 'read': '" + std::string(bad) + "' is no SCPI header or word; write read: READ");
  CHECK(said(with(meter, "read: READ\n", "")) == "p.yaml:1:1: 'read' is missing in a phrasebook; write read: READ");
  CHECK(said(with(meter, "at once", "at onse")) ==
        "p.yaml:15:1: unknown key 'at onse' in a phrasebook; write 'at once'\n"
        "p.yaml:1:1: 'at once' is missing in a phrasebook; write at once: IMMediate");
  CHECK(said(with(meter, "identity: \"*IDN\"", "identity: *IDN")) ==
        "p.yaml:4:11: an alias (*) is not used in these files; write the value out, or put the text in quotes");
}

TEST_CASE("phrasebook: an answer in short or long form means the word, another does not", "[phrasebook]") {
  CHECK(phrasebook::means("POS", "POSitive"));
  CHECK(phrasebook::means("positive", "POSitive"));
  CHECK_FALSE(phrasebook::means("POSI", "POSitive"));
  CHECK_FALSE(phrasebook::means("NEG", "POSitive"));
  CHECK_FALSE(phrasebook::means("", "POSitive"));
  CHECK(phrasebook::means("VOLT", "VOLTage[:DC]"));
  CHECK(phrasebook::means("VOLT:DC", "VOLTage[:DC]"));
  CHECK_FALSE(phrasebook::means("VOLT:AC", "VOLTage[:DC]"));
  CHECK(phrasebook::means("XTIM:VOLT2", "XTIMe:VOLTage<n>", 2));
  CHECK_FALSE(phrasebook::means("XTIM:VOLT2", "XTIMe:VOLTage<n>", 1));
  CHECK(phrasebook::means("XTIM:VOLT", "XTIMe:VOLTage<n>", 1));
  CHECK_FALSE(phrasebook::means("POS;POS", "POSitive"));
  CHECK_FALSE(phrasebook::means("POS 1", "POSitive"));
}

TEST_CASE("phrasebook: a word is typed with its number and without what may be left out", "[phrasebook]") {
  CHECK(phrasebook::spoken("XTIMe:VOLTage<n>", 2) == "XTIMe:VOLTage2");
  CHECK(phrasebook::spoken("VOLTage[:DC]") == "VOLTage");
  CHECK(phrasebook::spoken("*IDN") == "*IDN");
}
