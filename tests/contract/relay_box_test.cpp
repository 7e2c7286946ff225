// SPDX-License-Identifier: Apache-2.0
// One suite over every built-in phrasebook for relay boxes: what core/bench/kind/relay_box.hpp promises, against the
// simulated one, which counts how many contacts were ever made at one moment.
#include "core/bench/kind/relay_box.hpp"

#include "instruments/phrasebook/relay_box.hpp"
#include "sim/instrument/relay_box.hpp"
#include "tests/contract/kind_bench.hpp"

using namespace eyelevel;
using namespace std::chrono_literals;

namespace {

using Ways = std::vector<bench::WayEntry>;
using Names = std::vector<std::string>;

std::shared_ptr<sim::SimulatedRelayBox> make(base::Timeline& timeline) {
  return std::make_shared<sim::SimulatedRelayBox>(timeline, 8);
}

struct Bench {
  explicit Bench(const phrasebook::Phrasebook& book, const Ways& ways = {{"pad", 3, {}}, {"calibrator", 5, {}}})
      : kind(make, device, [&](base::Timeline& timeline, std::unique_ptr<transport::Session> session) {
          return phrasebook::open_relay_box(timeline, book, std::move(session), ways);
        }) {}

  static task<> do_close(Bench& b, Names ways) { b.taken = co_await b.kind.instrument->close_only(ways, 2s); }
  static task<> do_closed(Bench& b) { b.is_closed = co_await b.kind.instrument->closed(2s); }
  auto close_only(Names ways) { return kind.run(do_close(*this, std::move(ways))); }
  Names closed() {
    CHECK_FALSE(kind.run(do_closed(*this)));
    return is_closed;
  }

  std::shared_ptr<sim::SimulatedRelayBox> device;
  test::KindBench<bench::RelayBox> kind;
  std::vector<bench::SettingTaken> taken;
  Names is_closed;
};

}  // namespace

TEST_CASE("relay box contract: exactly the ways that are named make contact, once the call returns", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    INFO(book.name);
    Bench b(book);
    CHECK(b.closed().empty());
    REQUIRE_FALSE(b.close_only({"calibrator"}));
    CHECK(b.device->makes_contact(5));
    CHECK_FALSE(b.device->makes_contact(3));
    CHECK(b.closed() == Names{"calibrator"});
    REQUIRE(b.taken.size() == 2);
    CHECK(b.taken[0].setting == "way pad");
    CHECK(b.taken[0].read_back == "open");
    CHECK(b.taken[1].read_back == "closed");
    REQUIRE_FALSE(b.close_only({"pad", "calibrator"}));
    CHECK(b.device->makes_contact(5));
    CHECK(b.device->makes_contact(3));
    REQUIRE_FALSE(b.close_only({}));
    CHECK_FALSE(b.device->makes_contact(5));
    CHECK_FALSE(b.device->makes_contact(3));
  }
}

TEST_CASE("relay box contract: one way opens before the next closes", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    INFO(book.name);
    Bench b(book);
    for (int i = 0; i < 3; ++i) {
      REQUIRE_FALSE(b.close_only({"pad"}));
      REQUIRE_FALSE(b.close_only({"calibrator"}));
    }
    CHECK(b.device->most_contacts() == 1);
  }
}

TEST_CASE("relay box contract: a name that the bench file does not have is refused and nothing moves", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    INFO(book.name);
    Bench b(book);
    REQUIRE_FALSE(b.close_only({"pad"}));
    CHECK(b.close_only({"calibrator", "nowhere"}) == base::ErrorCode::bad_input);
    CHECK_THAT(b.kind.last, Catch::Contains("the bench file has no way 'nowhere'"));
    CHECK(b.closed() == Names{"pad"});
  }
}

TEST_CASE("relay box contract: a relay that the instrument does not have is its error", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    INFO(book.name);
    Bench b(book, {{"pad", 3, {}}, {"far", 9, {}}});
    CHECK(b.close_only({"pad"}).has_value());
    CHECK_THAT(b.kind.last, Catch::Contains("-222"));
    CHECK_FALSE(b.device->makes_contact(3));
  }
}

TEST_CASE("relay box contract: a relay that sticks is told by the name of its way", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    INFO(book.name);
    const auto& phrases = std::get<phrasebook::RelayBoxPhrases>(book.phrases);
    Bench open(book);
    open.kind.ignore(phrasebook::spoken(phrases.close));
    CHECK(open.close_only({"pad"}) == base::ErrorCode::setting_not_taken);
    CHECK_THAT(open.kind.last, Catch::Contains("way 'pad' (relay 3): asked closed, the instrument says open"));
    Bench closed(book);
    REQUIRE_FALSE(closed.close_only({"pad"}));
    closed.kind.ignore(phrasebook::spoken(phrases.open_all));
    CHECK(closed.close_only({"calibrator"}) == base::ErrorCode::setting_not_taken);
    CHECK_FALSE(closed.device->makes_contact(5));  // nothing closes while something is stuck
    CHECK(closed.kind.make_safe() == base::ErrorCode::setting_not_taken);
    CHECK_THAT(closed.kind.last, Catch::Contains("switch the instrument off by hand"));
  }
}

TEST_CASE("relay box contract: making safe opens everything, whatever happened before", "[contract]") {
  for (const auto& book : test::phrasebooks_of("relay box")) {
    for (const test::Trouble& trouble : test::troubles_of_a_query()) {
      INFO(book.name << ", " << sim::name_of(trouble.kind));
      Bench b(book);
      REQUIRE_FALSE(b.close_only({"pad", "calibrator"}));
      b.kind.spoil(trouble.kind);
      if (trouble.seen_by_the_next) CHECK_FALSE(b.kind.run(Bench::do_closed(b)));
      CHECK(b.kind.run(Bench::do_closed(b)) == trouble.code);
      b.kind.spoilt->behave();
      if (trouble.code == base::ErrorCode::connection_lost) continue;  // nobody is there any more
      CHECK_FALSE(b.kind.make_safe());
      CHECK(b.closed().empty());
    }
  }
}
