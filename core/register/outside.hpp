// SPDX-License-Identifier: Apache-2.0
// A part that comes from outside, as a plugin of either form brings it: what it declares, and what it is asked and
// answers, as plain data in SI units. core/sequence/outside makes verbs and measures of such parts, instruments/plugin
// drivers and links. Whoever calls a part trusts neither its numbers nor its words: outside/answer.hpp.
#pragma once

#include <cstdint>
#include <functional>
#include <limits>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/register/register.hpp"

namespace eyelevel::registers {

enum class PartKind { verb, measure, driver, transport };
std::string_view name_of(PartKind kind);

// What a key may name: a result of an earlier step.
enum class ResultKind { reading, waveform, captures };
std::string_view name_of(ResultKind kind);

using OutsideValue = std::variant<double, long long, bool, std::string>;
using OutsideValues = std::map<std::string, OutsideValue>;

struct OutsideReading {
  double value = 0;
  std::string unit;  // of SI, without prefix; "1" for ratios
  double standard_uncertainty = 0;
  double degrees_of_freedom = std::numeric_limits<double>::infinity();
  long long count = 1;
};

// Why a reading of a stranger cannot be one in `unit`; empty when it can.
std::string why_impossible(const OutsideReading& reading, std::string_view unit);
// What unit a dimension is told in: "V", "1" for ratios.
std::string outside_unit(quantity::Dimension dimension);

// An averaged waveform. A longer one is not handed out.
inline constexpr std::size_t outside_samples_most = std::size_t{1} << 20U;
struct OutsideWaveform {
  double rate_hz = 0;
  std::vector<float> volts;  // at the probe tip
  double noise_v = 0;        // standard deviation of one sample about the mean waveform
  long long count = 1;       // of records averaged
};

// What is known of each kept capture; the samples are in the record only. A figure that could not be had is empty.
struct OutsideCapture {
  double from_s = 0;
  std::optional<double> level_v, i3_v, top_v, bottom_v, mean_v, i3_over_i11, asymmetry;
};
using OutsideCaptures = std::vector<OutsideCapture>;

using OutsideResult = std::variant<OutsideReading, OutsideWaveform, OutsideCaptures>;

struct Question {
  PartKind kind = PartKind::verb;
  std::string name;  // of the part
  std::string ask;   // of a driver: "greet", "set up", "read", ...; otherwise empty
  OutsideValues values;
  std::map<std::string, OutsideResult> results;  // by the key that names them; "of" for what is measured
};

struct Answer {
  std::optional<OutsideReading> reading;
  std::vector<std::string> notes;         // into the record
  std::map<std::string, double> numbers;  // of a driver: what it read back
  std::string text;                       // of a driver: who it is
};

// Answers within `within` (of the wall clock) or throws base::Error that names the plugin; simulated time does not jump
// meanwhile; cancellation reaches it. Any number of runs on any threads may call it at once.
using OutsideCall = std::function<task<Answer>(Question, base::Timeline&, base::Duration within)>;

struct OutsidePart {
  PartKind kind = PartKind::verb;
  Declaration declaration;                    // parameters: only those of its own
  std::map<std::string, ResultKind> results;  // keys whose value is the name of an earlier result
  std::optional<ResultKind> takes;            // of a measure: what it is made from, a waveform or captures
  std::optional<quantity::Dimension> gives;   // the reading it makes; a measure always has one
  std::string instrument;                     // of a driver: the kind it drives
  OutsideCall call;
};

}  // namespace eyelevel::registers
