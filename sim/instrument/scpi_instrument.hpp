// SPDX-License-Identifier: Apache-2.0
// What every simulated instrument has in common: it takes program messages apart, finds the command, answers, and keeps
// the IEEE 488.2 common commands, the SCPI required SYSTem and STATus commands, status model and error queue. The kinds
// derive from it and register their own headers. Simulated work takes Timeline time; pending operations are looked at
// when somebody asks (settle()) or waits for a service request, so that no task runs in the background.
// A command error (-1xx) ends the message, an execution error (-2xx) only its unit.
#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/gong.hpp"
#include "core/base/timeline.hpp"
#include "instruments/scpi/header_tree.hpp"
#include "instruments/scpi/message/response_builder.hpp"
#include "instruments/scpi/status.hpp"
#include "instruments/transport/device.hpp"

namespace eyelevel::sim {

class ScpiInstrument : public transport::Device {
 public:
  task<> execute(std::string_view message, transport::Reply& reply) final;
  void clear() final;
  std::uint8_t serial_poll(bool message_available) final;
  std::uint8_t status_to_announce(bool message_available) final;
  std::uint8_t status_byte(bool message_available) final { return status_.polled(message_available); }
  std::uint64_t service_requests() final { return status_.requests(); }
  void answer_waits() final { notice(true); }
  task<std::uint64_t> service_requested(std::uint64_t seen) final;
  void query_error(int number) final { raise_error(number); }
  void control_is_at(std::uint16_t port) final { control_port_ = port; }

  const std::string& identity() const { return identity_; }  // its answer to *IDN?

  // For misbehaviours: an error appears in the queue; a command is accepted and has no effect. The header is as a
  // client types it, "SENS:VOLT1:RANG:PTP"; numbers do not matter. Throws CommandError(-113) when there is no such
  // command.
  void raise_error(int number, std::string_view detail = {}) {
    status_.push_error(number, detail);
    notice(false);
  }
  void ignore_command(std::string_view header);
  void answer_self_test(int number) { self_test_ = number; }

 protected:
  struct Call {
    const std::vector<scpi::Parameter>& parameters;
    const std::vector<int>& suffixes;
    scpi::ResponseBuilder& response;

    int suffix(std::size_t i = 0) const { return suffixes[i]; }
    void expect(std::size_t least, std::size_t most) const;     // -109, -108
    const scpi::Parameter& parameter(std::size_t i = 0) const;  // -109
  };
  using Now = std::function<void(Call&)>;
  using Later = std::function<task<>(Call&)>;

  ScpiInstrument(base::Timeline& timeline, std::string identity, std::string capability);

  void on(std::string_view pattern, Now handler);
  void on_waiting(std::string_view pattern, Later handler);
  // A numeric setting: the command, and the query with MINimum, MAXimum, DEFault.
  struct NumericSetting {
    scpi::Unit unit = scpi::Unit::none;
    std::function<scpi::NumericLimits(const Call&)> limits;
    std::function<double(const Call&)> get;
    std::function<void(const Call&, double)> set;
    bool whole = false;  // answers NR1
  };
  void on_number(const std::string& pattern, NumericSetting setting);
  // A Boolean setting kept in the place that `at` gives.
  void on_boolean(const std::string& pattern, std::function<bool&(const Call&)> at);

  base::Timeline& timeline() { return timeline_; }
  const base::Timeline& timeline() const { return timeline_; }
  double now_s() const { return base::to_seconds(timeline_.now()); }
  scpi::Status& status() { return status_; }
  // Waits until no operation is pending.
  task<> finish();

 private:
  virtual void reset() = 0;           // *RST
  virtual void settle_operation() {}  // let what is pending advance to now
  virtual bool operation_pending() { return false; }
  virtual base::Duration next_look() { return timeline_.now(); }  // when settling may bring something new
  virtual void bus_trigger();                                     // *TRG; -211 when nothing waits for it

  struct Command {
    Now now;
    Later later;
    bool ignored = false;
  };

  void register_common();
  void register_system();
  void register_status(const std::string& node, scpi::StatusRegister& reg);
  void settle();
  void notice(bool message_available);
  task<> answer_completion(Call& call);
  task<> run_unit(Command& command, Call& call);

  base::Timeline& timeline_;
  std::string identity_;
  std::string capability_;
  scpi::Status status_;
  scpi::HeaderTree tree_;
  std::vector<Command> commands_;
  bool completion_asked_ = false;  // *OPC
  std::uint16_t control_port_ = 0;
  int self_test_ = 0;
  base::Gong changed_;  // something was executed or requested: who waits for service looks again
};

}  // namespace eyelevel::sim
