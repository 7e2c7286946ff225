// SPDX-License-Identifier: Apache-2.0
#include "sim/player/pad_signal.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>
#include <vector>

namespace eyelevel::sim {
namespace {

constexpr double full_turn_rad = 2 * std::numbers::pi;
constexpr double noise_reference_hz = 2e6;  // the band in which disc noise is stated
constexpr std::size_t block_samples = 4096;
constexpr double block_s = 0.4e-3;      // levels run straight within a block: a three-hundredth of a turn
constexpr double open_block_s = 10e-6;  // the same while tracks are crossed
constexpr double ratio_step = 0.004;    // of I3/I11 between two shapes
constexpr std::size_t shapes_kept = 64;

// Design values of the states in which the track is not followed.
constexpr double contrast_between_tracks = 0.4;  // ECMA-130 2nd ed. 12.4: below 0.5
constexpr double seek_tracks_per_s = 5000;
constexpr double spin_up_slow = 0.4;  // begins 40 % below its speed
constexpr double spin_up_s = 0.2;
constexpr double open_speed_spread = 0.15;
constexpr double search_hz = 1.3;
constexpr double search_travel_um = 500;  // to either side
constexpr double search_depth_um = 4;
constexpr double stray_light = 0.01;

double random_share(std::uint64_t key, std::string_view of) { return base::Random(key, of).uniform(); }

// Wavers between tracks: 1 on a track, the cross-talk half-way between two.
double contrast_at(double tracks) {
  constexpr double middle = (1 + contrast_between_tracks) / 2;
  return middle + (1 - middle) * std::cos(full_turn_rad * tracks);
}

// Height of the lens above focus, a triangle from below.
double search_height_um(double since_s) {
  const double phase = since_s * search_hz;
  return search_travel_um * (4 * std::abs(phase - std::floor(phase + 0.5)) - 1);
}

double spin_up_place_s(double since_s) {
  return since_s - spin_up_slow * spin_up_s * -std::expm1(-since_s / spin_up_s);
}

}  // namespace

struct PadSignal::Reader {
  explicit Reader(std::shared_ptr<const LoadedDisc> loaded) : disc(std::move(loaded)), stream(disc->disc().contents) {}

  EyeRenderer& renderer(const EyeLight& eye) {
    const auto step = static_cast<std::int64_t>(std::lround(eye.i3_over_i11 / ratio_step));
    auto found = shapes.find(step);
    if (found != shapes.end()) return found->second;
    if (shapes.size() >= shapes_kept) shapes.clear();
    EyeLight typical = eye;
    typical.i3_over_i11 = static_cast<double>(step) * ratio_step;
    return shapes.emplace(step, EyeRenderer(disc->shape(typical))).first->second;
  }

  std::shared_ptr<const LoadedDisc> disc;
  ChannelStream stream;
  std::map<std::int64_t, EyeRenderer> shapes;
};

PadSignal::PadSignal(const Player& player) : player_(player) {}
PadSignal::~PadSignal() = default;

PadSignal::Reader& PadSignal::reader(const std::shared_ptr<const LoadedDisc>& disc) {
  if (!reader_ || reader_->disc != disc) reader_ = std::make_unique<Reader>(disc);
  return *reader_;
}

double PadSignal::place_of(const Stretch& stretch, double time_s) const {
  if (stretch.segment->state == PlayerState::spin_up) return stretch.place_s + spin_up_place_s(time_s - stretch.from_s);
  return stretch.place_at(time_s);
}

double PadSignal::followed(const Stretch& stretch, const Block& block) {
  Reader& reading = reader(stretch.segment->disc);
  const LoadedDisc& disc = *reading.disc;
  struct End {
    double bit;
    EyeLight eye;
  };
  const auto at = [&](double time_s) -> End {
    const double place_s = place_of(stretch, time_s);
    const double turns = disc.spiral().turns(place_s);
    return {channel_rate_1x_hz * (place_s + disc.time_error_s(turns)),
            disc.eye(place_s, turns, player_.laser_light_at(time_s))};
  };
  const End first = at(block.from_s), last = at(block.end_s());
  const auto n = static_cast<double>(block.volts.size());
  reading.renderer(first.eye).render(
      reading.stream, {.start_bit = first.bit, .bits_per_sample = (last.bit - first.bit) / n}, block.volts);

  const auto middle_v = [&](const End& end) { return player_.linear_v((end.eye.land + end.eye.pit) / 2); };
  const auto half_v = [&](const End& end) { return player_.linear_v((end.eye.land - end.eye.pit) / 2); };
  const auto middle0 = static_cast<float>(middle_v(first)), half0 = static_cast<float>(half_v(first));
  const auto middle_step = static_cast<float>((middle_v(last) - middle_v(first)) / n);
  const auto half_step = static_cast<float>((half_v(last) - half_v(first)) / n);
  // Counted in 32 bits, which the vector registers can convert; a block is no longer than that.
  const auto count = static_cast<std::int32_t>(block.volts.size());
  float* volts = block.volts.data();
  for (std::int32_t i = 0; i < count; ++i) {
    const auto along = static_cast<float>(i);
    volts[i] = middle0 + middle_step * along + (half0 + half_step * along) * volts[i];
  }
  return player_.linear_v(first.eye.noise) / std::sqrt(noise_reference_hz);
}

// Full swing where a track is crossed, little between; each track has its own bits and the speed is anybody's guess.
double PadSignal::open_track(const Segment& segment, const Block& block) {
  Reader& reading = reader(segment.disc);
  const LoadedDisc& disc = *reading.disc;
  const double turn_s = disc.spiral().turn_s(segment.place_s);
  const double speed = 1 + open_speed_spread * (2 * random_share(segment.key, "speed") - 1);
  const double swing = disc.eccentricity_m() / disc.spiral().pitch_m;
  const double phase_rad = full_turn_rad * random_share(segment.key, "phase");
  const double sled = segment.state == PlayerState::seeking ? seek_tracks_per_s : 0;
  const auto tracks_at = [&](double since_s) {
    return swing * std::sin(full_turn_rad * since_s * speed / turn_s + phase_rad) + sled * since_s;
  };
  const double light = player_.laser_light_at(block.from_s);
  const EyeLight eye = disc.eye(segment.place_s, light);
  const double land_v = player_.linear_v(eye.land), swing_v = player_.linear_v(eye.land - eye.pit);
  EyeRenderer& renderer = reading.renderer(eye);
  const auto piece = static_cast<std::size_t>(std::max(1.0, open_block_s * block.rate_hz));
  for (std::size_t i = 0; i < block.volts.size(); i += piece) {
    const auto part = block.volts.subspan(i, std::min(piece, block.volts.size() - i));
    const double since_s = block.from_s + static_cast<double>(i) / block.rate_hz - segment.from_s;
    const double tracks = tracks_at(since_s);
    const double place_s = segment.place_s + since_s * speed + std::round(tracks) * turn_s;
    renderer.render(
        reading.stream,
        {.start_bit = channel_rate_1x_hz * place_s, .bits_per_sample = channel_rate_1x_hz * speed / block.rate_hz},
        part);
    const double until_s = since_s + static_cast<double>(part.size()) / block.rate_hz;
    const auto half0 = static_cast<float>(swing_v / 2 * contrast_at(tracks));
    const auto step = static_cast<float>(swing_v / 2 * (contrast_at(tracks_at(until_s)) - contrast_at(tracks))) /
                      static_cast<float>(part.size());
    const auto land = static_cast<float>(land_v);
    for (std::size_t j = 0; j < part.size(); ++j) {
      const float half = half0 + step * static_cast<float>(j);
      part[j] = land - half + half * part[j];
    }
  }
  return player_.linear_v(eye.noise) / std::sqrt(noise_reference_hz);
}

// A hump each time the lens moves through focus.
void PadSignal::focus_search(const Segment& segment, const Block& block) const {
  const double soft_s = player_.parameters().drive.soft_start_s;
  const double light = player_.laser_light_at(block.from_s);
  double hump_v = 0, stray_v = player_.linear_v(stray_light * light);
  if (segment.disc) {
    const EyeLight eye = segment.disc->eye(segment.place_s, light);
    hump_v = player_.linear_v((eye.land + eye.pit) / 2);
  }
  for (std::size_t i = 0; i < block.volts.size(); ++i) {
    const double since_s = block.from_s + static_cast<double>(i) / block.rate_hz - segment.from_s;
    const double off = search_height_um(since_s) / search_depth_um;
    const double near = 1 / ((1 + off * off) * (1 + off * off));
    block.volts[i] = static_cast<float>((hump_v * near + stray_v) * -std::expm1(-since_s / soft_s));
  }
}

// The unloaded pad without noise; returns the density of the noise to be added.
double PadSignal::unloaded(const Stretch& stretch, const Block& block) {
  const PlayerParameters& unit = player_.parameters();
  const PlayerState state = stretch.segment->state;
  if (state == PlayerState::off || state == PlayerState::standby) {
    std::fill(block.volts.begin(), block.volts.end(),
              state == PlayerState::off ? 0.0F : static_cast<float>(unit.stray_v));
    return 0;
  }
  double of_disc_v = 0;
  if (!laser_is_lit(state))
    std::fill(block.volts.begin(), block.volts.end(), 0.0F);
  else if (state == PlayerState::searching)
    focus_search(*stretch.segment, block);
  else if (state == PlayerState::tracking_open || state == PlayerState::seeking)
    of_disc_v = open_track(*stretch.segment, block);
  else
    of_disc_v = followed(stretch, block);
  saturate(block.volts, unit.model.saturation_v);
  const auto dark = static_cast<float>(player_.dark_v_at(block.from_s));
  const float sign = unit.model.light_raises_voltage ? 1.0F : -1.0F;
  for (float& v : block.volts) v = dark + sign * v;
  return std::hypot(unit.noise_v_per_sqrt_hz, of_disc_v);
}

void PadSignal::render(double start_s, double rate_hz, std::span<float> volts, const Load& load) {
  const PlayerParameters& unit = player_.parameters();
  OnePole pole(loaded(unit.source_ohm, load), rate_hz);
  const std::uint64_t key =
      std::bit_cast<std::uint64_t>(start_s) ^ std::rotl(std::bit_cast<std::uint64_t>(rate_hz), 21);
  NoiseSource noise(unit.noise_bandwidth_hz, rate_hz, key ^ unit.seed);
  const auto count = static_cast<std::ptrdiff_t>(volts.size());
  const auto warm_up = static_cast<std::ptrdiff_t>(pole.warm_up());
  const auto most = static_cast<std::ptrdiff_t>(std::clamp(block_s * rate_hz, 1.0, static_cast<double>(block_samples)));
  std::vector<float> before(static_cast<std::size_t>(std::min(warm_up, most)));
  for (std::ptrdiff_t i = -warm_up; i < count;) {
    const double time_s = start_s + static_cast<double>(i) / rate_hz;
    const Stretch stretch = player_.schedule().stretch_at(time_s);
    // A block ends with the stretch, the record, or where the warm-up does.
    auto length = std::min(most, i < 0 ? -i : count - i);
    const double left = std::ceil((stretch.until_s - time_s) * rate_hz);
    if (left < static_cast<double>(length)) length = std::max(std::ptrdiff_t{1}, static_cast<std::ptrdiff_t>(left));
    const auto size = static_cast<std::size_t>(length);
    const auto part = i < 0 ? std::span(before).first(size) : volts.subspan(static_cast<std::size_t>(i), size);
    const double density_v = unloaded(stretch, {time_s, rate_hz, part});
    if (density_v > 0) noise.add_to(part, density_v);
    pole.run(part);
    i += length;
  }
}

// The unloaded pad's mean around one moment, long against a channel bit and short against a turn.
double PadSignal::mean_at(double time_s) const {
  const Stretch stretch = player_.schedule().stretch_at(time_s);
  const Segment& segment = *stretch.segment;
  if (segment.state == PlayerState::off) return 0;
  if (segment.state == PlayerState::standby) return player_.parameters().stray_v;
  const double dark_v = player_.dark_v_at(time_s);
  if (!laser_is_lit(segment.state)) return dark_v;
  if (segment.state == PlayerState::searching) {
    float linear_v = 0;
    focus_search(segment, {time_s, 1, std::span(&linear_v, 1)});
    return player_.pad_v(static_cast<double>(linear_v), dark_v);
  }
  const double light = player_.laser_light_at(time_s);
  EyeLight eye = segment.disc->eye(place_of(stretch, time_s), light);
  if (segment.state == PlayerState::tracking_open || segment.state == PlayerState::seeking)
    eye.pit = eye.land - (eye.land - eye.pit) * (1 + contrast_between_tracks) / 2;
  return player_.eye_mean_v(*segment.disc, eye, dark_v);
}

double PadSignal::mean_v(double from_s, double until_s, const Load& load) {
  const double gain = loaded(player_.parameters().source_ohm, load).gain;
  constexpr double slow_step_s = 0.05, turning_step_s = 2e-3, search_step_s = 0.2e-3;
  constexpr double most_points = 4000;
  double sum_v_s = 0;
  double time_s = from_s;
  do {
    const Segment& segment = player_.schedule().segment_at(time_s);
    const double part_until_s = std::min(until_s, player_.schedule().end_of_segment_s(time_s));
    const double length_s = part_until_s - time_s;
    const double step_s = segment.state == PlayerState::searching ? search_step_s
                          : laser_is_lit(segment.state)           ? turning_step_s
                                                                  : slow_step_s;
    const auto points = static_cast<int>(std::clamp(std::ceil(length_s / step_s), 4.0, most_points));
    double sum_v = 0;
    for (int i = 0; i < points; ++i) sum_v += mean_at(time_s + length_s * (i + 0.5) / points);
    if (until_s <= from_s) return gain * sum_v / points;
    sum_v_s += length_s * sum_v / points;
    time_s = part_until_s;
  } while (time_s < until_s);
  return gain * sum_v_s / (until_s - from_s);
}

}  // namespace eyelevel::sim
