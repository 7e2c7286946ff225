// SPDX-License-Identifier: Apache-2.0
#include "sim/instrument/scpi_instrument.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/scpi/error.hpp"

namespace eyelevel::sim {

void ScpiInstrument::Call::expect(std::size_t least, std::size_t most) const {
  if (parameters.size() < least) throw scpi::CommandError(-109);
  if (parameters.size() > most) throw scpi::CommandError(-108);
}

const scpi::Parameter& ScpiInstrument::Call::parameter(std::size_t i) const {
  if (i >= parameters.size()) throw scpi::CommandError(-109);
  return parameters[i];
}

ScpiInstrument::ScpiInstrument(base::Timeline& timeline, std::string identity, std::string capability)
    : timeline_(timeline), identity_(std::move(identity)), capability_(std::move(capability)) {
  register_common();
  register_system();
}

void ScpiInstrument::on(std::string_view pattern, Now handler) {
  tree_.add(pattern, commands_.size());
  commands_.push_back({std::move(handler), {}, false});
}

void ScpiInstrument::on_waiting(std::string_view pattern, Later handler) {
  tree_.add(pattern, commands_.size());
  commands_.push_back({{}, std::move(handler), false});
}

void ScpiInstrument::on_number(const std::string& pattern, NumericSetting setting) {
  on(pattern, [setting](Call& call) {
    call.expect(1, 1);
    setting.set(call, call.parameter().number(setting.unit, setting.limits(call)));
  });
  on(pattern + "?", [setting = std::move(setting)](Call& call) {
    call.expect(0, 1);
    double value = setting.get(call);
    if (!call.parameters.empty()) {
      // Only the words make sense in a query.
      if (call.parameter().type != scpi::ParameterType::character) throw scpi::CommandError(-128);
      value = call.parameter().number(setting.unit, setting.limits(call));
    }
    if (setting.whole) {
      call.response.nr1(static_cast<std::int64_t>(value));
    } else {
      call.response.nr3(value);
    }
  });
}

void ScpiInstrument::on_boolean(const std::string& pattern, std::function<bool&(const Call&)> at) {
  on(pattern, [at](Call& call) {
    call.expect(1, 1);
    at(call) = call.parameter().boolean();
  });
  on(pattern + "?", [at = std::move(at)](Call& call) {
    call.expect(0, 0);
    call.response.boolean(at(call));
  });
}

void ScpiInstrument::register_common() {
  on("*CLS", [this](Call& call) {
    call.expect(0, 0);
    status_.clear();
    completion_asked_ = false;
  });
  on("*ESE",
     [this](Call& call) { status_.set_event_enable(static_cast<std::uint8_t>(call.parameter().integer(0, 255))); });
  on("*ESE?", [this](Call& call) { call.response.nr1(status_.event_enable()); });
  on("*ESR?", [this](Call& call) { call.response.nr1(status_.read_event()); });
  on("*IDN?", [this](Call& call) { call.response.arbitrary(identity_); });
  on("*OPC", [this](Call& call) {
    call.expect(0, 0);
    completion_asked_ = true;
    settle();
  });
  on_waiting("*OPC?", [this](Call& call) { return answer_completion(call); });
  on("*RST", [this](Call& call) {
    call.expect(0, 0);
    completion_asked_ = false;
    reset();
  });
  on("*SRE",
     [this](Call& call) { status_.set_service_enable(static_cast<std::uint8_t>(call.parameter().integer(0, 255))); });
  on("*SRE?", [this](Call& call) { call.response.nr1(status_.service_enable()); });
  on("*TST?", [this](Call& call) { call.response.nr1(self_test_); });
  on("*TRG", [this](Call& call) {
    call.expect(0, 0);
    bus_trigger();
  });
  on_waiting("*WAI", [this](Call&) { return finish(); });
  on("*STB?", [this](Call& call) { call.response.nr1(status_.status_byte(call.response.waiting())); });
}

void ScpiInstrument::register_system() {
  on("SYSTem:ERRor[:NEXT]?", [this](Call& call) {
    const auto error = status_.errors().pop();
    call.response.nr1(error.number);
    call.response.string(error.text);
  });
  on("SYSTem:ERRor:ALL?", [this](Call& call) {
    do {
      const auto error = status_.errors().pop();
      call.response.nr1(error.number);
      call.response.string(error.text);
    } while (!status_.errors().empty());
  });
  on("SYSTem:ERRor:COUNt?",
     [this](Call& call) { call.response.nr1(static_cast<std::int64_t>(status_.errors().size())); });
  on("SYSTem:ERRor:CODE[:NEXT]?", [this](Call& call) { call.response.nr1(status_.errors().pop().number); });
  on("SYSTem:ERRor:CODE:ALL?", [this](Call& call) {
    do call.response.nr1(status_.errors().pop().number);
    while (!status_.errors().empty());
  });
  on("SYSTem:VERSion?", [](Call& call) { call.response.nr2(1999.0, 1); });
  on("SYSTem:CAPability?", [this](Call& call) { call.response.string(capability_); });
  // 0 says that there is no control connection.
  on("SYSTem:COMMunicate:TCPip:CONTrol?", [this](Call& call) { call.response.nr1(control_port_); });
  register_status("STATus:OPERation", status_.operation);
  register_status("STATus:QUEStionable", status_.questionable);
  on("STATus:PRESet", [this](Call&) {
    status_.operation.preset();
    status_.questionable.preset();
  });
}

void ScpiInstrument::register_status(const std::string& node, scpi::StatusRegister& reg) {
  on(node + "[:EVENt]?", [&reg](Call& call) { call.response.nr1(reg.read_event()); });
  on(node + ":CONDition?", [&reg](Call& call) { call.response.nr1(reg.condition()); });
  struct Mask {
    const char* name;
    std::uint16_t (scpi::StatusRegister::*get)() const;
    void (scpi::StatusRegister::*set)(std::uint16_t);
  };
  for (const auto& mask :
       {Mask{":ENABle", &scpi::StatusRegister::enable, &scpi::StatusRegister::set_enable},
        Mask{":PTRansition", &scpi::StatusRegister::positive_filter, &scpi::StatusRegister::set_positive_filter},
        Mask{":NTRansition", &scpi::StatusRegister::negative_filter, &scpi::StatusRegister::set_negative_filter}}) {
    on(node + mask.name, [&reg, set = mask.set](Call& call) {
      (reg.*set)(static_cast<std::uint16_t>(call.parameter().integer(0, 32767)));
    });
    on(node + mask.name + "?", [&reg, get = mask.get](Call& call) { call.response.nr1((reg.*get)()); });
  }
}

void ScpiInstrument::ignore_command(std::string_view header) {
  scpi::ProgramParser parser(header);
  scpi::ProgramUnit unit;
  if (!parser.next(unit)) throw scpi::CommandError(-113);
  scpi::HeaderTree::Path path;
  commands_[tree_.find(unit, path).command].ignored = true;
}

void ScpiInstrument::bus_trigger() { throw scpi::CommandError(-211); }

void ScpiInstrument::settle() {
  settle_operation();
  if (completion_asked_ && !operation_pending()) {
    completion_asked_ = false;
    status_.set_event(scpi::Status::opc);
  }
}

task<> ScpiInstrument::finish() {
  for (settle(); operation_pending(); settle()) co_await timeline_.sleep_until(next_look());
}

task<> ScpiInstrument::answer_completion(Call& call) {
  co_await finish();
  call.response.nr1(1);
}

void ScpiInstrument::clear() { completion_asked_ = false; }

task<> ScpiInstrument::run_unit(Command& command, Call& call) {
  if (command.now) {
    command.now(call);
  } else {
    co_await command.later(call);
  }
}

task<> ScpiInstrument::execute(std::string_view message, transport::Reply& reply) {
  settle();
  scpi::ResponseBuilder response(reply.bytes);
  scpi::ProgramParser parser(message);
  scpi::ProgramUnit unit;
  scpi::HeaderTree::Path path;
  for (;;) {
    scpi::HeaderTree::Match match;
    try {
      if (!parser.next(unit)) break;
      match = tree_.find(unit, path);
    } catch (const scpi::CommandError& error) {
      status_.push_error(error.number(), error.detail());
      break;
    }
    Command& command = commands_[match.command];
    if (command.ignored) continue;
    if (unit.query) response.begin_unit();
    const std::size_t before = reply.bytes.size();
    Call call{unit.parameters, match.suffixes, response};
    bool command_error = false;
    try {
      co_await run_unit(command, call);
    } catch (const scpi::CommandError& error) {
      status_.push_error(error.number(), error.detail());
      reply.bytes.resize(before);
      command_error = error.number() > -200;
    } catch (const base::Error& error) {
      status_.push_error(-310, error.record().message);
      reply.bytes.resize(before);
    }
    if (command_error) break;
  }
  settle();
  notice(false);
}

void ScpiInstrument::notice(bool message_available) {
  status_.notice(message_available);
  changed_.strike();
}

std::uint8_t ScpiInstrument::serial_poll(bool message_available) {
  settle();
  return status_.serial_poll(message_available);
}

std::uint8_t ScpiInstrument::status_to_announce(bool message_available) {
  return status_.status_to_announce(message_available);
}

task<std::uint64_t> ScpiInstrument::service_requested(std::uint64_t seen) {
  for (;;) {
    settle();
    status_.notice(false);
    if (status_.requests() > seen) co_return status_.requests();
    if (completion_asked_) {
      // What is pending may end while nobody asks.
      const auto wait = std::max(next_look() - timeline_.now(), base::Duration(1));
      co_await base::finished_within(timeline_, wait, changed_.wait());
    } else {
      co_await changed_.wait();
    }
  }
}

}  // namespace eyelevel::sim
