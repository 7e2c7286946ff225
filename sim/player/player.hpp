// SPDX-License-Identifier: Apache-2.0
// One simulated disc player. Commands come with the moment at which they happen; between them the player goes on by
// itself: it looks for focus, spins up, reads the contents, seeks, plays, skips, stops at the end. Everything at every
// moment follows from the parameters, the seed and the commands. The truths come from the physics, never from a
// measurement. Not here: the test pad's signal (pad_signal.hpp), the person who gives the commands (sim/operator).
// Times: seconds of the Timeline, never decreasing from command to command. One player belongs to one thread.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <vector>

#include "sim/disc/disc.hpp"
#include "sim/player/eye_mean.hpp"
#include "sim/player/laser.hpp"
#include "sim/player/loaded_disc.hpp"
#include "sim/player/parameters.hpp"
#include "sim/player/schedule.hpp"
#include "sim/player/trimmer.hpp"

namespace eyelevel::sim {

class Player {
 public:
  explicit Player(const PlayerParameters& parameters);

  // Commands. Switching on loads the disc that is in; inserting a disc while on loads it.
  void switch_on(double now_s);
  void switch_off(double now_s);
  void insert(std::shared_ptr<const Disc> disc, double now_s);  // replaces what was in
  void remove_disc(double now_s);
  // Plays from INDEX 01 of a track. While the disc is being loaded the wish is kept. False: off, no disc in, no such
  // track.
  bool start_track(int track, double now_s);
  void repeat_disc() { repeats_ = true; }  // what is started from now on begins again when the disc has ended
  bool pause(double now_s);                // false unless it plays
  bool resume(double now_s);               // false unless it is paused
  void stop(double now_s);
  void turn_trimmer_clockwise(double angle_deg, double now_s);
  // A look at it: a power cut that has come by then is seen from here on.
  void look(double now_s) { begin(now_s); }

  // What is so at a moment.
  PlayerState state_at(double time_s) const { return schedule_.segment_at(time_s).state; }
  bool is_on() const { return on_; }
  const Disc* disc() const { return loaded_ ? &loaded_->disc() : nullptr; }
  std::optional<double> place_s_at(double time_s) const;  // while the track is followed
  std::optional<double> radius_m_at(double time_s) const;
  std::optional<int> track_at(double time_s) const;  // while playing or paused; none in the pause before a track
  double temperature_c_at(double time_s) const;
  OperatingPoint laser_at(double time_s) const;  // dark while the laser is off
  double laser_light_at(double time_s) const;    // relative to the right setting, were it lit
  // When the disc will be playing or stopped, seen from now; nullopt when loading fails or there is nothing to load.
  std::optional<double> ready_s() const { return ready_s_; }
  const Trimmer& trimmer() const { return trimmer_; }
  int turns_while_on() const { return turns_while_on_; }
  const PlayerParameters& parameters() const { return parameters_; }
  const Schedule& schedule() const { return schedule_; }
  const LoadedDisc* loaded_disc() const { return loaded_.get(); }

  // Truths of the unloaded pad, averaged over the whole number of turns nearest to the span (at least one), over those
  // parts of the span in which the track was followed; nullopt when there were none. Cost: some hundred evaluations.
  // Level: settled 11T land less settled 11T pit, in volts, always positive.
  std::optional<double> true_level_v(double from_s, double until_s) const;
  std::optional<double> true_mean_v(double from_s, double until_s) const;
  // The pad without light, amplifier alive, averaged over the span.
  double true_dark_v(double from_s, double until_s) const;
  double dark_v_at(double time_s) const;
  // Volts of this much light from dark, before saturation; and the unloaded pad with these linear volts behind it.
  double linear_v(double light) const;
  double pad_v(double linear_v, double dark_v) const;
  // The unloaded pad's mean over an eye with these levels.
  double eye_mean_v(const LoadedDisc& disc, const EyeLight& eye, double dark_v) const;

 private:
  struct Heat {
    double from_s, temperature_c;
    bool on;
  };
  struct Setting {
    double from_s, setting;
  };
  void heat_from(double now_s, bool on);
  base::Random chance();
  Segment segment(PlayerState state, double from_s) const;
  void begin(double now_s);
  void load(double from_s);
  std::optional<double> focus(double from_s, const ServoTimes& times, base::Random& random);
  std::optional<double> read_contents(double focused_s, const ServoTimes& times, base::Random& random);
  void play(double from_s, double place_s);
  double play_once(double from_s, double place_s, base::Random& random);
  void seek_and_play(double from_s, double place_s);
  void turn_over_what_plays(double now_s);
  double light_for_servo(double time_s) const;
  using OfEye = std::function<double(const LoadedDisc&, const EyeLight&, double time_s)>;
  std::optional<double> turn_average(double from_s, double until_s, const OfEye& of_eye) const;

  PlayerParameters parameters_;
  Trimmer trimmer_;
  Schedule schedule_;
  std::shared_ptr<const LoadedDisc> loaded_;
  bool on_ = false;
  bool repeats_ = false;
  double last_command_s_ = 0;
  std::uint64_t commands_ = 0;
  int turns_while_on_ = 0;
  std::optional<double> ready_s_;
  std::vector<Heat> heat_;
  std::vector<Setting> settings_;
  mutable std::map<std::uint64_t, EyeMean> means_;  // by disc, made when needed
};

}  // namespace eyelevel::sim
