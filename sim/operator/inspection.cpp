// SPDX-License-Identifier: Apache-2.0
#include "sim/operator/inspection.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "sim/player/laser.hpp"
#include "sim/player/servo.hpp"

namespace eyelevel::sim {

namespace {

// The player as it stands, seen by one who knows where to look.
class Inspection {
 public:
  Inspection(const Player& player, const std::vector<std::shared_ptr<const Disc>>& box, double now_s)
      : player_(player), unit_(player.parameters()), box_(box), now_s_(now_s) {}

  std::string current() const {
    const double ma = laser(player_.trimmer().setting()).current_ma;
    if (ma < 1) return "none";
    const double share = ma / unit_.label_current_ma;
    return share > 1.15 ? "high" : share < 0.85 ? "low" : "ok";
  }

  std::string focus() const {
    const double failure = failure_with(disc_light());
    return failure < 0.1 ? "one" : failure < 0.7 ? "several" : "fails";
  }

  std::string trimmer() const {
    if (player_.trimmer().is_open()) return "jumpy";
    const double setting = player_.trimmer().setting();
    return laser(setting * 1.1).light_mw > 1.03 * laser(setting).light_mw ? "follows" : "flat";
  }

  std::string discs() const {
    constexpr double worse = 0.15;
    if (player_.disc() != nullptr && player_.disc()->scratch_depth > 0) return "one";
    double pressed = 0, weak = 0;
    for (const auto& disc : box_) {
      const double failure = failure_with(disc->light);
      if (disc->kind == DiscKind::pressed) pressed = failure;
      if (disc->kind == DiscKind::recordable) weak = failure;
    }
    return weak > pressed + worse ? "weak" : pressed > weak + worse ? "pressed" : "alike";
  }

  std::optional<std::string> check(const std::string& name) const {
    constexpr double film_that_shows = 0.97, wear_that_shows = 1.12, offset_that_shows_um = 1;
    if (name == "threshold") return unit_.laser.threshold_wear > wear_that_shows ? "raised" : "normal";
    if (name == "clean lens") return unit_.film_transmission < film_that_shows ? "helps" : "no";
    if (name == "clean mirror") return "no";  // all of the film is on the lens
    if (name == "focus sweep") return std::abs(unit_.focus_offset_um) > offset_that_shows_um ? "aside" : "centred";
    if (name == "turn disc") return turned();
    if (name == "look at disc")
      return player_.disc() != nullptr && player_.disc()->scratch_depth > 0 ? "scratch" : "clean";
    if (name == "wiper sweep") return player_.trimmer().is_open() ? "jumps" : "smooth";
    return std::nullopt;
  }

 private:
  OperatingPoint laser(double setting) const {
    return operating_point(unit_.laser, unit_.drive, setting, player_.temperature_c_at(now_s_));
  }
  double disc_light() const {
    if (player_.disc() != nullptr) return player_.disc()->light;
    return box_.empty() ? 1 : box_.front()->light;
  }
  double failure_with(double disc) const {
    const double film = unit_.film_transmission * unit_.film_transmission;
    const double light = player_.laser_light_at(now_s_) * film * disc;
    const double starts = 1 - focus_failure_per_try(light, unit_.model.switches_gain);
    return 1 - starts * (1 - load_failure(light));
  }
  std::string turned() const {
    constexpr double eccentricity_that_shows_m = 60e-6;
    if (unit_.spindle_eccentricity_m > eccentricity_that_shows_m) return "spindle";
    return player_.disc() != nullptr && player_.disc()->scratch_depth > 0 ? "disc" : "neither";
  }

  const Player& player_;
  const PlayerParameters& unit_;
  const std::vector<std::shared_ptr<const Disc>>& box_;
  double now_s_;
};

}  // namespace

std::optional<std::string> found_by_looking(const bench::Question& question, const Player& player,
                                            const std::vector<std::shared_ptr<const Disc>>& box, double now_s) {
  if (question.kind != bench::AnswerKind::one_of) return std::nullopt;
  const auto can_choose = [&](const char* choice) {
    return std::find(question.choices.begin(), question.choices.end(), choice) != question.choices.end();
  };
  const Inspection look(player, box, now_s);
  std::optional<std::string> found;
  if (can_choose("low") && can_choose("high"))
    found = look.current();
  else if (can_choose("several"))
    found = look.focus();
  else if (can_choose("jumpy"))
    found = look.trimmer();
  else if (can_choose("weak") && can_choose("alike"))
    found = look.discs();
  else
    found = look.check(question.name);
  if (found && !can_choose(found->c_str())) return std::nullopt;
  return found;
}

}  // namespace eyelevel::sim
