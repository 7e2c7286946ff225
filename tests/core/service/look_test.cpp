// SPDX-License-Identifier: Apache-2.0
#include "core/service/look.hpp"

#include <boost/json.hpp>
#include <cstring>

#include "tests/core/service/harness.hpp"
#include "tests/support/eye_renderer.hpp"

using namespace eyelevel;
using service::Looker;
namespace json = boost::json;

namespace {

event::Captured captured(const std::string& name, const std::string& not_kept = "", double level_v = 1.2) {
  support::EyeSettings settings;
  settings.duration_s = 500e-6;
  settings.top_v = 1.6 + level_v / 2;
  settings.bottom_v = 1.6 - level_v / 2;
  auto wave = support::render(settings).on_screen(0.6, 2.6);
  wave.screen = signal::Screen{0.6, 2.6};
  return {{}, name, "rf", 1, std::make_shared<const signal::Waveform>(std::move(wave)), not_kept};
}

}  // namespace

TEST_CASE("look: the level of the newest capture, counts, and the only limit of a voltage", "[service]") {
  const auto sequence = test::checked(test::around(test::capture_step));
  Looker looker(sequence);
  CHECK(looker.take(captured("pressed"), true));
  CHECK(looker.take(captured("pressed", "focus", 1.1), true));
  const auto look = json::parse(looker.look().json());
  // The renderer's truth is the level of settled runs; a hundredth of it is far beyond what noise does here.
  CHECK(look.at("level_v").as_double() == Approx(1.1).epsilon(0.02));
  CHECK(look.at("level_expanded_v").is_null());
  CHECK(look.at("at_least").as_double() == Approx(1.08));
  CHECK(look.at("at_most").as_double() == Approx(1.32));
  CHECK(look.at("kept") == 1);
  CHECK(look.at("tried") == 2);
}

TEST_CASE("look: a reading of a voltage brings its uncertainty", "[service]") {
  const auto sequence = test::checked(test::around(test::capture_step));
  Looker looker(sequence);
  metrology::Reading reading;
  reading.unit = "V";
  reading.value = 1.203;
  reading.interval.expanded_uncertainty = 0.021;
  CHECK_FALSE(looker.take(reading));  // of nothing that was looked at
  looker.take(captured("pressed"), false);
  CHECK(looker.take(reading));
  CHECK(looker.look().level_v == 1.203);
  CHECK(looker.look().level_expanded_v == 0.021);
  reading.unit = "Hz";
  CHECK_FALSE(looker.take(reading));
}

TEST_CASE("look: captures of another name begin anew, and those that nobody sees are only counted", "[service]") {
  const auto sequence = test::checked(test::around(test::capture_step));
  Looker looker(sequence);
  CHECK_FALSE(looker.take(captured("pressed"), false));
  CHECK(looker.look().eye.density.empty());
  CHECK(looker.take(captured("pressed"), true));
  CHECK(looker.look().tried == 2);
  CHECK(looker.take(captured("recordable"), true));
  CHECK(looker.look().tried == 1);
}

TEST_CASE("look: the eye has its darkest cell at 255, and lies between the rails of the signal", "[service]") {
  const auto sequence = test::checked(test::around(test::capture_step));
  Looker looker(sequence);
  looker.take(captured("pressed"), true);
  const auto& eye = looker.look().eye;
  REQUIRE(eye.density.size() == std::size_t{eye.width} * eye.height);
  CHECK(*std::max_element(eye.density.begin(), eye.density.end()) == 255);
  const auto row_is_empty = [&](std::size_t row) {
    return std::all_of(eye.density.begin() + static_cast<std::ptrdiff_t>(row * eye.width),
                       eye.density.begin() + static_cast<std::ptrdiff_t>((row + 1) * eye.width),
                       [](std::uint8_t shade) { return shade == 0; });
  };
  // Screen 0.6 to 2.6 V, signal 1.0 to 2.2 V: a fifth of the rows above and below hold nothing.
  CHECK(row_is_empty(0));
  CHECK(row_is_empty(std::size_t{eye.height} / 8));
  CHECK(row_is_empty(std::size_t{eye.height} - 1));
  CHECK_FALSE(row_is_empty(std::size_t{eye.height} / 2));
}

TEST_CASE("look: its bytes are as the feed describes them", "[service]") {
  const service::EyeLook eye{2, 1, 0.5F, 1.5F, 13.F, {7, 255}};
  const std::string bytes = eye.bytes();
  REQUIRE(bytes.size() == 4 + 2 + 2 + 3 * 4 + 2);
  CHECK(bytes.substr(0, 4) == "EYE1");
  CHECK(bytes.substr(4, 4) == std::string("\x02\x00\x01\x00", 4));
  float low_v = 0;
  std::memcpy(&low_v, bytes.data() + 8, sizeof low_v);
  CHECK(low_v == 0.5F);
  CHECK(static_cast<unsigned char>(bytes.back()) == 255);
}
