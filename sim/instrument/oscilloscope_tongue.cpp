// SPDX-License-Identifier: Apache-2.0
// The two other ways in which the simulated oscilloscope gives its records out: the same physics and settings, codes
// with a header instead of volts. Records are read by first and last point, counted from 1.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>

#include "instruments/scpi/error.hpp"
#include "sim/instrument/oscilloscope.hpp"

namespace eyelevel::sim {
namespace {

// Where the codes of a record stand in such a block: unsigned, code 0 is the lowest; signed, as in a record.
constexpr int half = 128;

}  // namespace

void SimulatedOscilloscope::register_tongue() {
  const std::string root = "RECord";
  on(root + ":SOURce", [this](Call& call) {
    call.expect(1, 1);
    const std::string name = call.parameter().name();
    for (int i = 1; i <= class_.channels; ++i) {
      if (name != fmt::format("CHAN{}", i) && name != fmt::format("CHANNEL{}", i)) continue;
      told_.channel = i;
      return;
    }
    throw scpi::CommandError(-224, name);
  });
  on(root + ":SOURce?", [this](Call& call) { call.response.character(fmt::format("CHAN{}", told_.channel)); });
  on(root + ":FORMat", [this](Call& call) {
    call.expect(1, 1);
    told_.wide = call.parameter().choice({"BYTE", "WORD"}) == 1;
  });
  on(root + ":FORMat?", [this](Call& call) { call.response.character(told_.wide ? "WORD" : "BYTE"); });
  on(root + ":BORDer", [this](Call& call) {
    call.expect(1, 1);
    told_.swapped = call.parameter().choice({"NORMal", "SWAPped"}) == 1;
  });
  on(root + ":BORDer?", [this](Call& call) { call.response.character(told_.swapped ? "SWAP" : "NORM"); });
  const auto point = [this](std::int64_t Told::* place) {
    return NumericSetting{
        .unit = scpi::Unit::none,
        .limits = [this](const Call&) { return scpi::NumericLimits{1, static_cast<double>(class_.points_max), 1}; },
        .get = [this, place](const Call&) { return static_cast<double>(told_.*place); },
        .set = [this, place](const Call&, double value) { told_.*place = std::llround(value); },
        .whole = true};
  };
  on_number(root + ":STARt", point(&Told::first));
  on_number(root + ":STOP", point(&Told::last));
  on(root + ":PREamble?", [this](Call& call) {
    call.expect(0, 0);
    if (tongue_ == Tongue::numbered_header) {
      answer_numbered_header(call);
    } else {
      answer_keyed_header(call);
    }
  });
  on(root + ":DATA?", [this](Call& call) {
    call.expect(0, 0);
    answer_points(call);
  });
}

const SimulatedOscilloscope::Channel& SimulatedOscilloscope::told_channel() const {
  const Channel& from = channels_.at(static_cast<std::size_t>(told_.channel - 1));
  if (!valid_ || !from.recorded) throw scpi::CommandError(-230);
  return from;
}

void SimulatedOscilloscope::answer_numbered_header(Call& call) {
  const Channel& from = told_channel();
  const double per_code = told_.wide ? 256 : 1;
  call.response.nr1(told_.wide ? 1 : 0);
  call.response.nr1(0);
  call.response.nr1(static_cast<std::int64_t>(from.codes.size()));
  call.response.nr1(1);
  call.response.nr3(sweep_.interval_s);
  call.response.nr3(acquisition_.origin_s());
  call.response.nr1(0);
  call.response.nr3(from.scale.step_v / per_code, 17);
  call.response.nr3(from.scale.offset_v, 17);
  call.response.nr1(half * static_cast<std::int64_t>(per_code));
}

void SimulatedOscilloscope::answer_keyed_header(Call& call) {
  const Channel& from = told_channel();
  const double per_code = told_.wide ? 256 : 1;
  std::string text = fmt::format("WIDTH {};NAME \"Channel {}; d.c., voltage\";POINTS {};INTERVAL ", told_.wide ? 2 : 1,
                                 told_.channel, from.codes.size());
  scpi::append_nr3(text, sweep_.interval_s, 10);
  // Zero is the voltage in the middle of the range, half a step from code 0.
  text += ";MULT ";
  scpi::append_nr3(text, from.scale.step_v / per_code, 17);
  text += ";OFFSET ";
  scpi::append_nr3(text, -0.5 * per_code, 10);
  text += ";ZERO ";
  scpi::append_nr3(text, from.scale.offset_v - 0.5 * from.scale.step_v, 17);
  call.response.arbitrary(text);
}

void SimulatedOscilloscope::answer_points(Call& call) {
  const Channel& from = told_channel();
  const auto size = static_cast<std::int64_t>(from.codes.size());
  if (told_.last < told_.first || told_.last > size) throw scpi::CommandError(-221, "points of the record");
  const auto count = static_cast<std::size_t>(told_.last - told_.first + 1);
  const std::int8_t* code = from.codes.data() + (told_.first - 1);
  const int lowest = tongue_ == Tongue::numbered_header ? half : 0;
  const std::size_t width = told_.wide ? 2 : 1;
  const auto block = call.response.block(count * width);
  char* out = block.data();
  for (std::size_t i = 0; i < count; ++i) {
    const int value = (code[i] + lowest) * (told_.wide ? 256 : 1);
    const auto low = static_cast<char>(value & 0xFF);
    const auto high = static_cast<char>((value >> 8) & 0xFF);
    if (!told_.wide) {
      *out++ = low;
    } else {
      *out++ = told_.swapped ? low : high;
      *out++ = told_.swapped ? high : low;
    }
  }
}

}  // namespace eyelevel::sim
