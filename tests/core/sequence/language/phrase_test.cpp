// SPDX-License-Identifier: Apache-2.0
// Right phrases and their bounds; the messages about wrong ones are in tests/golden.
#include "core/sequence/language/phrase.hpp"

#include <catch2/catch.hpp>

using namespace eyelevel;

namespace {

yaml::Node text(std::string value) {
  yaml::Node node;
  node.shape = yaml::Shape::text;
  node.text = std::move(value);
  node.is_plain = true;
  node.mark = {3, 7};
  return node;
}

}  // namespace

TEST_CASE("phrase: a length is a time, with or without the word long", "[sequence]") {
  yaml::Mistakes mistakes("t.yaml");
  CHECK(sequence::read_length_s(text("500 us long"), mistakes) == Approx(500e-6));
  CHECK(sequence::read_length_s(text("500 µs"), mistakes) == Approx(500e-6));
  CHECK(sequence::read_length_s(text("30 ms long "), mistakes) == Approx(0.030));
  CHECK(mistakes.list().empty());
  CHECK_FALSE(sequence::read_length_s(text("30 ms wide"), mistakes));
  REQUIRE(mistakes.size() == 1);
  CHECK(mistakes.list()[0].column == 13);  // the word, not the quantity
}

TEST_CASE("phrase: a screen has two ends at the probe tip", "[sequence]") {
  yaml::Mistakes mistakes("t.yaml");
  const auto screen = sequence::read_screen(text("0.6 V to 2.6 V at the probe tip"), mistakes);
  REQUIRE(screen);
  CHECK(*screen->low == Approx(0.6));
  CHECK(*screen->high == Approx(2.6));
  CHECK(sequence::read_screen(text("-200 mV to 0.2 V"), mistakes));
  CHECK(mistakes.list().empty());
}

TEST_CASE("phrase: a count stands with its words or alone, inside its bounds", "[sequence]") {
  yaml::Mistakes mistakes("t.yaml");
  const sequence::CountPhrase settled{.before = {}, .after = "settled", .most = 10};
  CHECK(sequence::read_count(text("10 settled"), settled, mistakes) == 10);
  CHECK(sequence::read_count(text("10"), settled, mistakes) == 10);
  CHECK_FALSE(sequence::read_count(text("11 settled"), settled, mistakes));
  CHECK_FALSE(sequence::read_count(text("settled"), settled, mistakes));
  CHECK_FALSE(sequence::read_count(text("10 000 000 000 000 000 000 000"), settled, mistakes));
  CHECK(mistakes.size() == 3);
}

TEST_CASE("phrase: a trigger has a direction and a level", "[sequence]") {
  yaml::Mistakes mistakes("t.yaml");
  const auto rising = sequence::read_trigger(text("rising through 1.6 V"), mistakes);
  REQUIRE(rising);
  CHECK(rising->level_v == Approx(1.6));
  CHECK(rising->edge == bench::Edge::rising);
  const auto falling = sequence::read_trigger(text("falling through -20 mV"), mistakes);
  REQUIRE(falling);
  CHECK(falling->edge == bench::Edge::falling);
  CHECK(mistakes.list().empty());
}
