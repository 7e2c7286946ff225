// SPDX-License-Identifier: Apache-2.0
// What the simulated oscilloscope gives out: measurement instructions, formats, traces.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "instruments/scpi/error.hpp"
#include "sim/instrument/oscilloscope.hpp"

namespace eyelevel::sim {
namespace {

constexpr std::size_t most_traces = 100;
constexpr std::size_t most_stored_bytes = std::size_t{128} << 20U;

bool is_channel_list(const scpi::Parameter& parameter) {
  return parameter.type == scpi::ParameterType::expression && parameter.raw.find('@') != std::string_view::npos;
}

}  // namespace

void SimulatedOscilloscope::register_format() {
  on("FORMat[:DATA]", [this](Call& call) {
    call.expect(1, 2);
    static constexpr std::array types{SampleType::ascii, SampleType::integer, SampleType::real};
    SampleFormat wanted = format_;
    wanted.type = types[call.parameter().choice({"ASCii", "INTeger", "REAL"})];
    const auto usual = wanted.type == SampleType::ascii ? 0 : wanted.type == SampleType::integer ? 16 : 32;
    const auto length = call.parameters.size() > 1 ? call.parameter(1).integer(0, 64) : usual;
    const bool possible = wanted.type == SampleType::ascii     ? length <= 17
                          : wanted.type == SampleType::integer ? length == 8 || length == 16
                                                               : length == 32 || length == 64;
    if (!possible) throw scpi::CommandError(-224, "length");
    wanted.length = static_cast<int>(length);
    format_ = wanted;
  });
  on("FORMat[:DATA]?", [this](Call& call) {
    static constexpr std::array names{"ASC", "INT", "REAL"};
    call.response.character(names[static_cast<std::size_t>(format_.type)]);
    call.response.nr1(format_.length);
  });
  on("FORMat:BORDer", [this](Call& call) {
    call.expect(1, 1);
    format_.swapped = call.parameter().choice({"NORMal", "SWAPped"}) == 1;
  });
  on("FORMat:BORDer?", [this](Call& call) { call.response.character(format_.swapped ? "SWAP" : "NORM"); });
}

void SimulatedOscilloscope::register_measurement() {
  const std::string function = "[:ARRay][:VOLTage][:DC]";
  on("CONFigure:ARRay[:VOLTage][:DC]", [this](Call& call) { configure(call); });
  on("CONFigure?", [this](Call& call) { call.response.string(fmt::format("ARR:VOLT ({})", sweep_.points)); });
  on_waiting("FETCh" + function + "?", [this](Call& call) -> task<> { return fetch_array(call); });
  on_waiting("READ" + function + "?", [this](Call& call) -> task<> { return read_array(call, false); });
  on_waiting("MEASure:ARRay[:VOLTage][:DC]?", [this](Call& call) -> task<> { return read_array(call, true); });
}

// Which channel a query is about: its channel list must name one.
SimulatedOscilloscope::Channel& SimulatedOscilloscope::channel_of(const scpi::Parameter& list) {
  const auto numbers = list.channel_list();
  if (numbers.size() != 1) throw scpi::CommandError(-224, "one channel at a time");
  if (numbers[0] < 1 || numbers[0] > class_.channels) throw scpi::CommandError(-222, "channel");
  return channels_[static_cast<std::size_t>(numbers[0] - 1)];
}

// CONFigure:ARRay:VOLTage (points)[,<expected>[,<resolution>]][,(@channel)]
void SimulatedOscilloscope::configure(Call& call) {
  call.expect(0, 4);
  std::size_t count = call.parameters.size();
  Channel* target = &channels_[0];
  if (count > 0 && is_channel_list(call.parameters[count - 1])) target = &channel_of(call.parameters[--count]);
  const scpi::NumericLimits points{2, static_cast<double>(class_.points_max), 1000};
  if (count > 0) {
    scpi::Parameter size = call.parameter(0);
    if (size.type == scpi::ParameterType::expression) {
      std::size_t used = 0;
      size.value = scpi::parse_nrf(size.raw, used);
      if (used == 0 || used != size.raw.size()) throw scpi::CommandError(-171);
      size.type = scpi::ParameterType::decimal;
    }
    sweep_.points = std::llround(size.number(scpi::Unit::none, points));
  }
  if (count > 1) {
    auto& setting = target->setting;
    const double factor = setting.attenuation;
    const double expected_v =
        call.parameter(1).number(scpi::Unit::volt, scpi::NumericLimits{-40 * factor, 40 * factor, factor});
    setting.range_in_v = std::max(8e-3, 2 * std::abs(expected_v) / factor);
    setting.offset_in_v = 0;
  }
  if (count > 2) call.parameter(2).number(scpi::Unit::volt, scpi::NumericLimits{0, 1e3, 0});
  invalidate();
}

void SimulatedOscilloscope::answer_array(Call& call, const Channel& from) {
  if (!valid_ || !from.recorded) throw scpi::CommandError(-230);
  answer_codes(call.response, from.codes, from.scale, format_);
}

task<> SimulatedOscilloscope::fetch_array(Call& call) {
  const auto& parameters = call.parameters;
  const bool named = !parameters.empty() && is_channel_list(parameters.back());
  Channel& from = named ? channel_of(parameters.back()) : channels_[0];
  // A record under way is waited for; one that waits for its trigger may never come, as on the bench.
  co_await finish();
  answer_array(call, from);
}

task<> SimulatedOscilloscope::read_array(Call& call, bool configure_first) {
  go_idle();
  if (configure_first) configure(call);
  if (trigger_.source == TriggerSource::bus || trigger_.source == TriggerSource::hold) throw scpi::CommandError(-214);
  initiate();
  co_await fetch_array(call);
}

void SimulatedOscilloscope::register_trace() {
  for (const std::string node : {"TRACe[:DATA]", "DATA[:DATA]"}) {
    const std::string root = node.substr(0, node.find('['));
    on(node, [this](Call& call) { store_trace(call); });
    on(node + "?", [this](Call& call) { answer_trace(call); });
    on(node + ":PREamble?", [this](Call& call) { answer_preamble(call); });
    on(root + ":CATalog?", [this](Call& call) {
      for (int i = 1; i <= class_.channels; ++i) call.response.string(fmt::format("CH{}", i));
      for (const auto& [name, trace] : traces_) call.response.string(name);
    });
    on(root + ":POINts?", [this](Call& call) {
      const auto name = call.parameter().name();
      if (const auto* live = live_trace(name)) {
        call.response.nr1(valid_ && live->recorded ? static_cast<std::int64_t>(live->codes.size()) : 0);
        return;
      }
      const auto at = traces_.find(name);
      if (at == traces_.end()) throw scpi::CommandError(-224, name);
      call.response.nr1(std::visit([](const auto& t) { return static_cast<std::int64_t>(t.size()); }, at->second));
    });
    on(root + ":DELete[:NAME]", [this](Call& call) {
      const auto name = call.parameter().name();
      if (traces_.erase(name) == 0) throw scpi::CommandError(-224, name);
    });
    on(root + ":DELete:ALL", [this](Call&) { traces_.clear(); });
    on(root + ":FREE?", [this](Call& call) {
      const std::size_t used = stored_bytes();
      call.response.nr1(static_cast<std::int64_t>(most_stored_bytes - std::min(used, most_stored_bytes)));
      call.response.nr1(static_cast<std::int64_t>(used));
    });
  }
}

SimulatedOscilloscope::Channel* SimulatedOscilloscope::live_trace(const std::string& name) {
  for (int i = 1; i <= class_.channels; ++i)
    if (name == fmt::format("CH{}", i)) return &channels_[static_cast<std::size_t>(i - 1)];
  return nullptr;
}

std::size_t SimulatedOscilloscope::stored_bytes() const {
  std::size_t bytes = 0;
  for (const auto& [name, trace] : traces_) {
    const auto* block = std::get_if<std::string>(&trace);
    bytes += block != nullptr ? block->size() : std::get<std::vector<double>>(trace).size() * sizeof(double);
  }
  return bytes;
}

// TRACe:DATA <name>,<block>|<value>{,<value>}: kept as it came.
void SimulatedOscilloscope::store_trace(Call& call) {
  if (call.parameters.size() < 2) throw scpi::CommandError(-109);
  const auto name = call.parameter(0).name();
  if (live_trace(name) != nullptr) throw scpi::CommandError(-221, name + " is measured");
  Trace trace;
  if (call.parameter(1).type == scpi::ParameterType::block) {
    call.expect(2, 2);
    trace = std::string(call.parameter(1).block());
  } else {
    std::vector<double> values;
    for (std::size_t i = 1; i < call.parameters.size(); ++i)
      values.push_back(call.parameter(i).number(scpi::Unit::volt));
    trace = std::move(values);
  }
  const auto known = traces_.find(name);
  Trace before = known == traces_.end() ? Trace{} : known->second;
  if (known == traces_.end() && traces_.size() >= most_traces) throw scpi::CommandError(-225);
  traces_[name] = std::move(trace);
  if (stored_bytes() <= most_stored_bytes) return;
  // Too much: as if nothing had been sent.
  if (known == traces_.end()) {
    traces_.erase(name);
  } else {
    traces_[name] = std::move(before);
  }
  throw scpi::CommandError(-225);
}

void SimulatedOscilloscope::answer_trace(Call& call) {
  call.expect(1, 1);
  const auto name = call.parameter().name();
  if (const auto* live = live_trace(name)) return answer_array(call, *live);
  const auto at = traces_.find(name);
  if (at == traces_.end()) throw scpi::CommandError(-224, name);
  if (const auto* bytes = std::get_if<std::string>(&at->second)) {
    std::ranges::copy(*bytes, call.response.block(bytes->size()).begin());
    return;
  }
  answer_values(call.response, std::get<std::vector<double>>(at->second), format_);
}

// DATA:PREamble? <channel trace>: points, seconds per point, seconds from trigger to the first point, volts per code,
// volts at code 0, for the present FORMat (REAL and ASCii are in volts: 1 and 0), lowest and highest volts of the
// range.
void SimulatedOscilloscope::answer_preamble(Call& call) {
  call.expect(1, 1);
  const auto name = call.parameter().name();
  const auto* live = live_trace(name);
  if (live == nullptr) throw scpi::CommandError(-224, name);
  if (!valid_ || !live->recorded) throw scpi::CommandError(-230);
  const bool codes = format_.type == SampleType::integer;
  const double per_code = format_.length == 16 ? 256 : 1;
  call.response.nr1(static_cast<std::int64_t>(live->codes.size()));
  call.response.nr3(sweep_.interval_s);
  call.response.nr3(acquisition_.origin_s());
  call.response.nr3(codes ? live->scale.step_v / per_code : 1, 17);
  call.response.nr3(codes ? live->scale.offset_v : 0, 17);
  call.response.nr3(live->scale.offset_v - 128 * live->scale.step_v, 17);
  call.response.nr3(live->scale.offset_v + 127 * live->scale.step_v, 17);
}

}  // namespace eyelevel::sim
