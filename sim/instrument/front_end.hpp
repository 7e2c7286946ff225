// SPDX-License-Identifier: Apache-2.0
// What lies between the place on the unit and the oscilloscope's codes: probe, coupling, bandwidth, the errors of this
// one instrument, noise, range with offset, 8-bit conversion with clipping. Volts "in" are at the input connector.
// Codes -128 to 127 stand for the range's ends and the 254 steps between: volts = offset + (code + 0.5) range / 255.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "core/base/random.hpp"
#include "sim/disc/kernels.hpp"
#include "sim/player/signal_source.hpp"

namespace eyelevel::sim {

// How good a family of oscilloscopes is: half-widths within which each instrument's errors are drawn (rectangular).
struct ScopeClass {
  int channels = 2;
  std::int64_t points_max = 10'000'000;
  double gain_relative = 0.015;    // of the reading
  double offset_in_v = 0.001;      // at the input connector
  double offset_of_range = 0.002;  // of the full range
  double clock_relative = 25e-6;   // sample clock
  double clock_off = 0;            // beside it, of this one: relative
  double noise_in_v = 0.2e-3;      // rms, at the input connector
  double noise_of_range = 0.0015;  // rms, of the full range
  double bandwidth_hz = 100e6;
};

// The probe as it really is, whatever the instrument was told.
struct ProbeWiring {
  double factor = 10;
  double resistance_ohm = 10e6;  // probe and input together, as the place sees them
  double capacitance_f = 12e-12;
  double divider_error = 0;  // relative; tip to input is (1 + error) / factor
  double compensation = 1;   // gain of everything but d.c., relative to d.c.; 1 is compensated
  double hum_v = 0;          // amplitude of the mains at the tip, which its ground loop picks up
  double hum_hz = 50;
};

enum class InputCoupling { ac, dc, ground };

struct InputSetting {
  bool on = true;
  InputCoupling coupling = InputCoupling::dc;
  double attenuation = 1;  // the probe factor that the instrument was told
  double range_in_v = 2;   // full span
  double offset_in_v = 0;  // its centre
  bool filter = false;
  double filter_hz = 20e6;
};

class FrontEnd {
 public:
  // Draws this channel's errors.
  FrontEnd(const ScopeClass& scope_class, base::Random random);

  void connect(std::shared_ptr<SignalSource> source, const ProbeWiring& probe);
  bool connected() const { return source_ != nullptr; }

  struct Span {
    double start_s = 0;
    double interval_s = 0;  // true one, clock error included
  };
  void digitise(const InputSetting& setting, const Span& span, std::span<std::int8_t> codes);
  // What the trigger sees: volts at the input connector with gain and offset error, without noise and conversion.
  void analog(const InputSetting& setting, const Span& span, std::span<float> volts_in);

 private:
  // First-order branch: everything below the corner times low, everything above times high.
  struct Shelf {
    float low;
    float high;
    kernels::Pole pole;  // what is below the corner

    void run(std::span<float> volts);
  };

  void prepare(const InputSetting& setting, const Span& span);
  void fill(const InputSetting& setting, const Span& span, std::size_t first, std::span<float> volts_in);
  Shelf shelf(double corner_hz, double low, double high, double before_v, double interval_s) const;
  double mean_before(double start_s, double length_s) const;
  double hum_v_at(double time_s) const;
  void add_hum(double start_s, double interval_s, std::span<float> volts) const;

  ScopeClass class_;
  base::Random random_;
  double gain_;
  double offset_in_v_;
  double offset_of_range_;
  std::shared_ptr<SignalSource> source_;
  ProbeWiring probe_;
  std::vector<Shelf> shelves_;
  std::vector<float> chunk_;
};

}  // namespace eyelevel::sim
