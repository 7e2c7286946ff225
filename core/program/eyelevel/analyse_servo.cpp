// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_servo.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <string_view>

#include "core/disc/servo/stream.hpp"
#include "core/program/eyelevel/analyse_words.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

json::value as_json(const disc::servo::SCurve& s) {
  return json::object{{"sweeps", s.sweeps},
                      {"height_v", s.height_v},
                      {"symmetry", s.symmetry},
                      {"slope_v_per_s", s.slope_v_per_s},
                      {"straight_s", s.straight_s}};
}

json::value as_json(const disc::servo::TrackingSwing& t) {
  return json::object{
      {"tracks", t.tracks}, {"height_v", t.height_v}, {"tracks_per_s", t.tracks_per_s}, {"balance", number(t.balance)}};
}

void print(const disc::servo::SCurve& s) {
  fmt::print("Focus error: {} through focus (means)\n", quantity::counted(s.sweeps, "sweep"));
  print_figure("S-curve, peak to peak", s.height_v, 1, 4, "V");
  print_figure("symmetry", s.symmetry, 100, 1, "%", "0 is even, positive: the upper peak is further (common practice)");
  print_figure("slope in focus", s.slope_v_per_s, 1, 1, "V/s", "by the speed of the lens it is V per um");
  print_figure("straight for", s.straight_s, 1e6, 0, "us", "within a tenth of the height of a straight line");
}

void print(const disc::servo::TrackingSwing& t) {
  fmt::print("Tracking error: {} crossed\n", quantity::counted(t.tracks, "track"));
  print_figure("swing, peak to peak", t.height_v, 1, 4, "V");
  print_figure("tracks", t.tracks_per_s, 1, 0, "/s");
  if (t.balance) print_figure("balance", t.balance, 100, 1, "%", "within 10 % is usual (common practice)");
  if (!t.balance) fmt::print("  balance wants --reference: what the signal stands on while tracking is closed\n");
}

template <class Found>
int tell(const disc::servo::Sought<Found>& sought, const char* key, std::string_view what, bool wants_json) {
  if (wants_json) {
    json::object object{{key, sought.found ? as_json(*sought.found) : json::value(nullptr)}};
    object["why_not"] = sought.found ? json::value(nullptr) : json::value(sought.why_not);
    fmt::print("{}\n", json::serialize(object));
  } else if (sought.found) {
    print(*sought.found);
  } else {
    fmt::print("No {} here: {}.\n", what, sought.why_not);
  }
  return sought.found ? all_met : not_met;
}

}  // namespace

int analyse_servo(signal::SampleStream& samples, CapturedSignal signal, std::optional<double> reference_v,
                  bool wants_json) {
  if (signal == CapturedSignal::focus_error) {
    return tell(disc::servo::s_curve(samples, reference_v), "focus_error", "S-curve", wants_json);
  }
  return tell(disc::servo::tracking_swing(samples, reference_v), "tracking_error", "swing of the tracking error",
              wants_json);
}

}  // namespace eyelevel::program
