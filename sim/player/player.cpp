// SPDX-License-Identifier: Apache-2.0
#include "sim/player/player.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <string>

#include "core/base/error.hpp"
#include "sim/player/pad.hpp"

namespace eyelevel::sim {
namespace {

constexpr int loads_tried = 3;
constexpr double no_disc_found_s = 0.3;  // after the last try the player gives up
constexpr double given_up_s = 2;         // after a disc has not come up to speed
constexpr double skip_seek_min_s = 0.15, skip_seek_max_s = 0.6;
constexpr double skipped_min_s = -0.5, skipped_max_s = 1.5;  // where it comes down again
constexpr double contents_place_s = -60;                     // somewhere in the lead-in
constexpr double repeated_for_s = 48 * 3600;                 // then whoever waits has gone home
constexpr double ambient_reference_c = 25;

}  // namespace

Player::Player(const PlayerParameters& parameters)
    : parameters_(parameters),
      trimmer_(parameters.trimmer, parameters.trimmer_start_deg, base::Random(parameters.seed, "wiper")) {
  heat_.push_back({0, parameters_.ambient_c, false});
  if (parameters_.power_cut_s) schedule_.goes_off_at(*parameters_.power_cut_s);
  settings_.push_back({0, trimmer_.setting()});
}

base::Random Player::chance() { return base::Random(parameters_.seed, "what happens " + std::to_string(commands_++)); }

Segment Player::segment(PlayerState state, double from_s) const {
  return {.state = state,
          .from_s = from_s,
          .place_s = contents_place_s,
          .key = base::Random(parameters_.seed ^ std::bit_cast<std::uint64_t>(from_s), "segment").bits(),
          .disc = loaded_};
}

// The player's own plans end where somebody touches it.
void Player::begin(double now_s) {
  if (!(now_s >= last_command_s_))
    throw base::Error(base::ErrorCode::defect, "simulated player: a command came before the one ahead of it");
  last_command_s_ = now_s;
  if (!parameters_.power_cut_s || now_s < *parameters_.power_cut_s) return;
  if (on_) {
    on_ = false;
    heat_from(*parameters_.power_cut_s, false);
    ready_s_.reset();
  }
  parameters_.power_cut_s.reset();
  schedule_.stays_on();
}

void Player::heat_from(double now_s, bool on) { heat_.push_back({now_s, temperature_c_at(now_s), on}); }

void Player::switch_on(double now_s) {
  begin(now_s);
  if (on_) return;
  on_ = true;
  heat_from(now_s, true);
  schedule_.cut(now_s);
  auto random = chance();
  schedule_.append(segment(PlayerState::standby, now_s));
  load(now_s + draw_servo_times(random).wake_s);
}

void Player::switch_off(double now_s) {
  begin(now_s);
  if (!on_) return;
  on_ = false;
  heat_from(now_s, false);
  ready_s_.reset();
  schedule_.cut(now_s);
  schedule_.append(segment(PlayerState::off, now_s));
}

void Player::insert(std::shared_ptr<const Disc> disc, double now_s) {
  begin(now_s);
  loaded_ = disc ? std::make_shared<const LoadedDisc>(std::move(disc), parameters_, chance()) : nullptr;
  ready_s_.reset();
  if (!on_) return;
  schedule_.cut(now_s);
  load(now_s);
}

void Player::remove_disc(double now_s) {
  begin(now_s);
  loaded_.reset();
  ready_s_.reset();
  if (!on_) return;
  schedule_.cut(now_s);
  schedule_.append(segment(PlayerState::no_disc, now_s));
}

bool Player::start_track(int track, double now_s) {
  begin(now_s);
  if (!on_ || !loaded_) return false;
  const Track* wanted = loaded_->disc().contents->track(track);
  if (wanted == nullptr) return false;
  const double place_s = static_cast<double>(wanted->start) / sections_per_s;
  if (ready_s_ && now_s < *ready_s_) {  // still loading: keep the wish
    schedule_.cut(*ready_s_);
    seek_and_play(*ready_s_, place_s);
    return true;
  }
  const PlayerState state = state_at(now_s);
  schedule_.cut(now_s);
  if (reads_the_disc(state) || state == PlayerState::seeking) {
    seek_and_play(now_s, place_s);
    return true;
  }
  if (!ready_s_) {  // loading failed before: try again
    load(now_s);
    if (!ready_s_) return true;
    schedule_.cut(*ready_s_);
    seek_and_play(*ready_s_, place_s);
    return true;
  }
  auto random = chance();
  const ServoTimes times = draw_servo_times(random);
  const auto focused_s = focus(now_s, times, random);
  if (!focused_s) {
    ready_s_.reset();
    return true;
  }
  schedule_.append(segment(PlayerState::spin_up, *focused_s));
  seek_and_play(*focused_s + times.spin_up_s, place_s);
  return true;
}

bool Player::pause(double now_s) {
  begin(now_s);
  if (state_at(now_s) != PlayerState::playing) return false;
  Segment still = segment(PlayerState::paused, now_s);
  still.place_s = *place_s_at(now_s);
  still.speed = schedule_.segment_at(now_s).speed;
  schedule_.cut(now_s);
  schedule_.append(still);
  return true;
}

bool Player::resume(double now_s) {
  begin(now_s);
  if (state_at(now_s) != PlayerState::paused) return false;
  const double place_s = *place_s_at(now_s);
  schedule_.cut(now_s);
  play(now_s, place_s);
  return true;
}

void Player::stop(double now_s) {
  begin(now_s);
  if (!on_ || !ready_s_ || now_s < *ready_s_) return;
  schedule_.cut(now_s);
  schedule_.append(segment(PlayerState::stopped, now_s));
}

void Player::turn_trimmer_clockwise(double angle_deg, double now_s) {
  begin(now_s);
  if (on_) ++turns_while_on_;
  trimmer_.turn_clockwise(angle_deg);
  settings_.push_back({now_s, trimmer_.setting()});
  if (on_) turn_over_what_plays(now_s);
}

// With another light the skips to come are others.
void Player::turn_over_what_plays(double now_s) {
  if (state_at(now_s) != PlayerState::playing) return;
  const double place_s = *place_s_at(now_s);
  schedule_.cut(now_s);
  play(now_s, place_s);
}

// ---- what the player does by itself

double Player::light_for_servo(double time_s) const {
  return loaded_ ? loaded_->servo_light(laser_light_at(time_s)) : 0;
}

std::optional<double> Player::focus(double from_s, const ServoTimes& times, base::Random& random) {
  double time_s = from_s;
  const double p = focus_failure_per_try(light_for_servo(from_s), parameters_.model.switches_gain);
  for (int i = 0; i < focus_tries; ++i) {
    schedule_.append(segment(PlayerState::searching, time_s));
    time_s += times.focus_try_s;
    if (loaded_ && !random.chance(p)) {
      schedule_.append(segment(PlayerState::tracking_open, time_s));
      return time_s + times.tracking_open_s;
    }
  }
  schedule_.append(segment(PlayerState::no_disc, time_s + no_disc_found_s));
  return std::nullopt;
}

// Spin-up and lead-in from the moment of focus; nullopt when this load failed, and then the last segment tells when.
std::optional<double> Player::read_contents(double focused_s, const ServoTimes& times, base::Random& random) {
  if (!parameters_.spindle_turns) {
    schedule_.append(segment(PlayerState::no_disc, focused_s + times.spin_up_s + given_up_s));
    return std::nullopt;
  }
  schedule_.append(segment(PlayerState::spin_up, focused_s));
  Segment contents = segment(PlayerState::contents, focused_s + times.spin_up_s);
  contents.place_s = contents_place_s;
  contents.speed = parameters_.model.audio_speed;
  schedule_.append(contents);
  const int tracks = static_cast<int>(loaded_->disc().contents->tracks.size());
  const double ready_s = contents.from_s + contents_cycle_s(tracks) / contents.speed + times.contents_extra_s;
  if (random.chance(load_failure(light_for_servo(focused_s)))) {
    schedule_.append(segment(PlayerState::no_disc, ready_s));
    return std::nullopt;
  }
  return ready_s;
}

void Player::load(double from_s) {
  ready_s_.reset();
  auto random = chance();
  double time_s = from_s;
  for (int i = 0; i < loads_tried; ++i) {
    const ServoTimes times = draw_servo_times(random);
    const auto focused_s = focus(time_s, times, random);
    if (!focused_s) return;
    ready_s_ = read_contents(*focused_s, times, random);
    if (ready_s_) {
      schedule_.append(segment(PlayerState::stopped, *ready_s_));
      return;
    }
    time_s = schedule_.last_s();
  }
}

void Player::seek_and_play(double from_s, double place_s) {
  auto random = chance();
  Segment seeking = segment(PlayerState::seeking, from_s);
  seeking.place_s = place_s;
  schedule_.append(seeking);
  play(from_s + draw_servo_times(random).seek_s, place_s);
}

// To the end of the disc, and again where it is repeated.
void Player::play(double from_s, double place_s) {
  auto random = chance();
  double time_s = play_once(from_s, place_s, random);
  while (repeats_ && time_s < from_s + repeated_for_s) {
    const double first_s = static_cast<double>(loaded_->disc().contents->tracks.front().start) / sections_per_s;
    Segment seeking = segment(PlayerState::seeking, time_s);
    seeking.place_s = first_s;
    schedule_.append(seeking);
    time_s = play_once(time_s + draw_servo_times(random).seek_s, first_s, random);
  }
  schedule_.append(segment(PlayerState::stopped, time_s));
}

// With the skips that this light brings; gives the moment when the disc has ended.
double Player::play_once(double from_s, double place_s, base::Random& random) {
  const ModelTraits& model = parameters_.model;
  const double skips_per_s = skips_per_min(light_for_servo(from_s), model.switches_gain) / 60;
  double time_s = from_s;
  double next_skip_s = time_s - std::log1p(-random.uniform()) / skips_per_s;
  for (const Track& track : loaded_->disc().contents->tracks) {
    const double end_s = static_cast<double>(track.end) / sections_per_s;
    Segment playing = segment(PlayerState::playing, time_s);
    playing.speed = track.is_data() ? model.data_speed : model.audio_speed;
    if (model.reads_in_bursts) playing.burst_period_s = model.burst_period_s;
    const double pace = model.reads_in_bursts ? playing.speed / 2 : playing.speed;
    while (place_s < end_s) {
      playing.from_s = time_s;
      playing.place_s = place_s;
      schedule_.append(playing);
      const double track_end_s = time_s + (end_s - place_s) / pace;
      if (next_skip_s >= track_end_s) {
        time_s = track_end_s;
        place_s = end_s;
        break;
      }
      place_s += (next_skip_s - time_s) * pace;
      Segment skip = segment(PlayerState::seeking, next_skip_s);
      skip.place_s = place_s;
      schedule_.append(skip);
      time_s = next_skip_s + random.uniform(skip_seek_min_s, skip_seek_max_s);
      place_s = std::max(0.0, place_s + random.uniform(skipped_min_s, skipped_max_s));
      next_skip_s = time_s - std::log1p(-random.uniform()) / skips_per_s;
    }
  }
  return time_s;
}

// ---- what is so at a moment

double Player::temperature_c_at(double time_s) const {
  const auto after = std::upper_bound(heat_.begin() + 1, heat_.end(), time_s,
                                      [](double time, const Heat& heat) { return time < heat.from_s; });
  const Heat& heat = *std::prev(after);
  const double target_c = parameters_.ambient_c + (heat.on ? parameters_.warm_up_k : 0);
  const double gone = std::exp(-std::max(0.0, time_s - heat.from_s) / parameters_.warm_up_s);
  return target_c + (heat.temperature_c - target_c) * gone;
}

double Player::laser_light_at(double time_s) const {
  const auto after = std::upper_bound(settings_.begin() + 1, settings_.end(), time_s,
                                      [](double time, const Setting& setting) { return time < setting.from_s; });
  const auto point =
      operating_point(parameters_.laser, parameters_.drive, std::prev(after)->setting, temperature_c_at(time_s));
  return point.light_mw / parameters_.drive.right_light_mw;
}

OperatingPoint Player::laser_at(double time_s) const {
  if (!laser_is_lit(state_at(time_s))) return {};
  const auto after = std::upper_bound(settings_.begin() + 1, settings_.end(), time_s,
                                      [](double time, const Setting& setting) { return time < setting.from_s; });
  return operating_point(parameters_.laser, parameters_.drive, std::prev(after)->setting, temperature_c_at(time_s));
}

std::optional<double> Player::place_s_at(double time_s) const {
  const Segment& now = schedule_.segment_at(time_s);
  if (!reads_the_disc(now.state)) return std::nullopt;
  return schedule_.stretch_at(time_s).place_at(time_s);
}

std::optional<double> Player::radius_m_at(double time_s) const {
  const auto place_s = place_s_at(time_s);
  if (!place_s) return std::nullopt;
  return schedule_.segment_at(time_s).disc->spiral().radius_m(*place_s);
}

std::optional<int> Player::track_at(double time_s) const {
  const auto place_s = place_s_at(time_s);
  if (!place_s) return std::nullopt;
  const auto section = static_cast<std::int64_t>(std::floor(*place_s * sections_per_s));
  const Track* track = schedule_.segment_at(time_s).disc->disc().contents->track_at(section);
  if (track == nullptr || section < track->start) return std::nullopt;
  return track->number;
}

double Player::linear_v(double light) const {
  return light * parameters_.model.nominal_level_v / parameters_.model.nominal_modulation;
}

double Player::pad_v(double linear_v, double dark_v) const {
  const double y = saturated_v(linear_v, parameters_.model.saturation_v);
  return parameters_.model.light_raises_voltage ? dark_v + y : dark_v - y;
}

double Player::dark_v_at(double time_s) const {
  const double temperature_c = temperature_c_at(time_s);
  const double warm = parameters_.warm_up_k > 0 ? (temperature_c - parameters_.ambient_c) / parameters_.warm_up_k : 0.0;
  return parameters_.model.reference_v * (1 + parameters_.reference_error) + parameters_.dark_offset_v +
         parameters_.drift_v * warm + parameters_.drift_v_per_k * (temperature_c - ambient_reference_c);
}

}  // namespace eyelevel::sim
