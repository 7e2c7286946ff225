// SPDX-License-Identifier: Apache-2.0
#include "core/report/sheet_content.hpp"

#include <catch2/catch.hpp>

#include <algorithm>

#include "tests/core/report/eye_run.hpp"

using namespace eyelevel;
using namespace eyelevel::report;

// Truth: the constants of eye_run.hpp; the mean over whole captures of its bobbing is below 1 mV. Tolerance: 1 % of the
// level, which is what the analysis promises.
TEST_CASE("sheet content: levels, channel bit and the level of every capture come from the record", "[report]") {
  const auto store = record::open_memory_store();
  const auto id = test::store_eye_run(*store, {});
  const SheetContent content = gather_sheet(*store, record::read_run(*store, id));
  constexpr double tolerance_v = 0.01 * test::eye_level_v;
  CHECK(content.eye_of == "pressed");
  REQUIRE(content.eye);
  CHECK(content.eye->captures == 64);
  CHECK(content.eye->folded == 64 * 10000);
  REQUIRE(content.eye_levels);
  CHECK(content.eye_levels->bottom_v == Approx(test::eye_bottom_v).margin(tolerance_v));
  CHECK(content.eye_levels->top_v == Approx(test::eye_bottom_v + test::eye_level_v).margin(tolerance_v));
  REQUIRE(content.eye_levels->i3_high_v);
  CHECK(*content.eye_levels->i3_high_v < content.eye_levels->top_v);
  CHECK(*content.eye_levels->i3_low_v > content.eye_levels->bottom_v);
  CHECK(*content.channel_bit_s == Approx(1 / test::eye_channel_rate_hz).epsilon(1e-3));
  REQUIRE(content.levels.size() == 71);
  for (std::size_t i = 0; i < content.levels.size(); ++i) {
    const int index = static_cast<int>(i) + 1;
    const bool lost = index % 10 == 0;
    const double truth_v = (test::eye_level_v + 0.02 * std::sin(0.4 * index)) * (lost ? 0.8 : 1.0);
    CHECK(content.levels[i].kept == !lost);
    REQUIRE(content.levels[i].level_v);
    CHECK(*content.levels[i].level_v == Approx(truth_v).margin(2 * tolerance_v));
  }
}

TEST_CASE("sheet content: rows are as high as the converter's step, also where its codes came as floats", "[report]") {
  const auto store = record::open_memory_store();
  const auto run = store->reserve_run({});
  base::Random random(4);
  const signal::Waveform codes = test::eye_waveform(random, test::eye_level_v);
  signal::Waveform floats = codes;
  std::vector<float> volts;
  for (std::size_t i = 0; i < codes.size(); ++i) volts.push_back(static_cast<float>(codes.view().volts(i)));
  floats.codes = volts;
  floats.scale_v = 1;
  floats.offset_v = 0;
  floats.start_s = 3.5;
  const std::vector<event::Event> events{
      {run, 1, 0, {}, event::Begun{}},
      {run, 2, 9, {}, event::Captured{{}, "rf", "rf", 1, std::make_shared<const signal::Waveform>(floats), ""}}};
  store->write(run, events);
  const SheetContent content = gather_sheet(*store, record::read_run(*store, run));
  REQUIRE(content.eye);
  CHECK(content.eye->step_v == Approx(codes.scale_v).epsilon(1e-4));  // a float's rounding at 2 V
  CHECK(content.levels.at(0).time_s == 3.5);                          // when it was taken, not when it was told
}

TEST_CASE("sheet content: captures that are no eye leave a histogram and no picture", "[report]") {
  const auto store = record::open_memory_store();
  const auto run = store->reserve_run({});
  signal::Waveform noise;
  base::Random random(2);
  std::vector<float> volts(10000);
  for (float& v : volts) v = static_cast<float>(random.normal(1.6, 0.1));
  noise.codes = volts;
  noise.rate_hz = 20e6;
  const std::vector<event::Event> events{
      {run, 1, 0, {}, event::Begun{}},
      {run, 2, 1, {}, event::Captured{{}, "rf", "rf", 1, std::make_shared<const signal::Waveform>(noise), ""}},
      {run, 3, 2, {}, event::Captured{{}, "rf", "rf", 2, nullptr, "no lock"}}};
  store->write(run, events);
  const SheetContent content = gather_sheet(*store, record::read_run(*store, run));
  REQUIRE(content.eye);
  CHECK(content.eye->folded == 0);
  CHECK(*std::max_element(content.eye->histogram.begin(), content.eye->histogram.end()) > 0);
  CHECK_FALSE(content.eye_levels);
  REQUIRE(content.levels.size() == 2);
  CHECK_FALSE(content.levels[0].level_v);
}

TEST_CASE("sheet content: a record without samples gives words instead of pictures", "[report]") {
  const auto store = record::open_memory_store({.keep_captures = false});
  const auto id = test::store_eye_run(*store, {.captures = 3});
  const SheetContent content = gather_sheet(*store, record::read_run(*store, id));
  CHECK_FALSE(content.eye);
  CHECK(content.levels.size() == 3);
}
