// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_servo.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <string_view>

#include "core/disc/servo/servo.hpp"
#include "core/program/eyelevel/command.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

void line(std::string_view name, double value, int digits, std::string_view unit, std::string_view say = {}) {
  fmt::print("  {:<28}{:>10.{}f} {:<5} {}\n", name, value, digits, unit, say);
}

int tell(const std::optional<disc::servo::SCurve>& s, bool as_json) {
  if (as_json) {
    json::value found = nullptr;
    if (s) {
      found = json::object{{"sweeps", s->sweeps},
                           {"height_v", s->height_v},
                           {"symmetry", s->symmetry},
                           {"slope_v_per_s", s->slope_v_per_s},
                           {"straight_s", s->straight_s}};
    }
    fmt::print("{}\n", json::serialize(json::object{{"focus_error", std::move(found)}}));
  } else if (!s) {
    fmt::print("No S-curve here: no sweep of the lens through focus, up and down in turn.\n");
  } else {
    fmt::print("Focus error: {} sweep{} through focus (means)\n", s->sweeps, s->sweeps == 1 ? "" : "s");
    line("S-curve, peak to peak", s->height_v, 4, "V");
    line("symmetry", 100 * s->symmetry, 1, "%", "0 is even, positive: the upper peak is further (common practice)");
    line("slope in focus", s->slope_v_per_s, 1, "V/s", "by the speed of the lens it is V per um");
    line("straight for", 1e6 * s->straight_s, 0, "us", "within a tenth of the height of a straight line");
  }
  return s ? all_met : not_met;
}

int tell(const std::optional<disc::servo::TrackingSwing>& t, bool as_json) {
  if (as_json) {
    json::value found = nullptr;
    if (t) {
      found = json::object{{"tracks", t->tracks},
                           {"height_v", t->height_v},
                           {"tracks_per_s", t->tracks_per_s},
                           {"balance", t->balance ? json::value(*t->balance) : json::value(nullptr)}};
    }
    fmt::print("{}\n", json::serialize(json::object{{"tracking_error", std::move(found)}}));
  } else if (!t) {
    fmt::print("No swing of the tracking error here: no tracks are crossed, or fewer than four.\n");
  } else {
    fmt::print("Tracking error: {} tracks crossed\n", t->tracks);
    line("swing, peak to peak", t->height_v, 4, "V");
    line("tracks", t->tracks_per_s, 0, "/s");
    if (t->balance) line("balance", 100 * *t->balance, 1, "%", "within 10 % is usual (common practice)");
    if (!t->balance) fmt::print("  balance wants --reference: what the signal stands on while tracking is closed\n");
  }
  return t ? all_met : not_met;
}

}  // namespace

int analyse_servo(WaveformFile& file, CapturedSignal signal, std::optional<double> reference_v, bool as_json) {
  const signal::StoredWaveform whole = signal::read_whole(*file.samples);
  if (signal == CapturedSignal::focus_error) return tell(disc::servo::s_curve(whole.view(), reference_v), as_json);
  return tell(disc::servo::tracking_swing(whole.view(), reference_v), as_json);
}

}  // namespace eyelevel::program
