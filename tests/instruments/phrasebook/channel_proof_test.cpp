// SPDX-License-Identifier: Apache-2.0
// Where the borders lie; the messages with the exchange around them are in oscilloscope_test.cpp.
#include "instruments/phrasebook/channel_proof.hpp"

#include <catch2/catch.hpp>

#include "core/base/error.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "tests/support/run_task.hpp"
#include "tests/support/scripted_link.hpp"

using namespace eyelevel;

namespace {

const bench::ChannelSetting asked{10, bench::Coupling::dc, 0.6, 2.6, 20e6};

struct Fixture {
  test::Simulated sim;
  test::Script script;
  phrasebook::Phrasebook book = phrasebook::find_phrasebook(phrasebook::standard_phrasebooks(), "standard-digitiser");
  phrasebook::Conversation talk{
      *sim.timeline,
      std::make_unique<transport::Session>(*sim.timeline, std::make_unique<test::ScriptedLink>(*sim.timeline, script)),
      book.common};

  bool serves(const phrasebook::ChannelRead& is) {
    try {
      phrasebook::prove_channel(talk, std::get<phrasebook::OscilloscopePhrases>(book.phrases), asked, is);
      return true;
    } catch (const base::Error& error) {
      CHECK(error.record().code == base::ErrorCode::setting_not_taken);
      return false;
    }
  }
};

}  // namespace

TEST_CASE("channel proof: rounding of six digits is no difference, a thousandth is", "[phrasebook]") {
  Fixture f;
  CHECK(f.serves({10, "DC", 2, 1.6, true, 20e6}));
  CHECK(f.serves({10.0005, "DC", 2, 1.6, true, 20e6}));
  CHECK_FALSE(f.serves({10.01, "DC", 2, 1.6, true, 20e6}));
  CHECK(f.serves({10, "DC", 1.9998, 1.6, true, 20e6}));
  CHECK_FALSE(f.serves({10, "DC", 1.998, 1.6, true, 20e6}));
}

TEST_CASE("channel proof: a screen may be five times as wide as asked, not more", "[phrasebook]") {
  Fixture f;
  CHECK(f.serves({10, "DC", 10, 1.6, true, 20e6}));
  CHECK_FALSE(f.serves({10, "DC", 10.1, 1.6, true, 20e6}));
}

TEST_CASE("channel proof: a filter's corner may be a tenth off", "[phrasebook]") {
  Fixture f;
  CHECK(f.serves({10, "DC", 2, 1.6, true, 21.9e6}));
  CHECK_FALSE(f.serves({10, "DC", 2, 1.6, true, 22.1e6}));
  CHECK_FALSE(f.serves({10, "DC", 2, 1.6, false, 20e6}));
}

TEST_CASE("channel proof: numbers that are none serve nothing", "[phrasebook]") {
  Fixture f;
  const double none = std::numeric_limits<double>::quiet_NaN();
  CHECK_FALSE(f.serves({none, "DC", 2, 1.6, true, 20e6}));
  CHECK_FALSE(f.serves({10, "DC", none, 1.6, true, 20e6}));
  CHECK_FALSE(f.serves({10, "DC", 2, none, true, 20e6}));
  CHECK_FALSE(f.serves({10, "DC", 2, 1.6, true, none}));
}
