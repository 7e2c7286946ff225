// SPDX-License-Identifier: Apache-2.0
// An instrument that speaks VXI-11 by a script, byte by byte: a portmapper, a core and an abort channel whose replies a
// test makes by hand, and which fall silent or close after a stated number of bytes. What it was asked is kept.
#pragma once

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/asio/write.hpp>
#include <boost/system/system_error.hpp>

#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <string>
#include <vector>

#include "instruments/transport/resource_name.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "instruments/transport/vxi11/codec.hpp"
#include "instruments/transport/vxi11/codec_rpc.hpp"
#include "instruments/transport/vxi11/listener.hpp"
#include "instruments/transport/vxi11/portmapper.hpp"
#include "instruments/transport/vxi11/record_stream.hpp"

namespace eyelevel::test {

namespace vxi11 = transport::vxi11;

// A whole record: the head of an accepted reply and these results.
inline std::string reply_to(const vxi11::FoundCall& found, std::string_view results) {
  std::string record;
  vxi11::begin_record(record);
  vxi11::append_reply(record, found.call.xid);
  record += results;
  vxi11::end_record(record);
  return record;
}

template <class Result>
std::string reply_with(const vxi11::FoundCall& found, const Result& result) {
  std::string results;
  append(results, result);
  return reply_to(found, results);
}

inline std::string reply_error(const vxi11::FoundCall& found, vxi11::DeviceError error) {
  std::string results;
  vxi11::append_error(results, error);
  return reply_to(found, results);
}

inline std::string reply_data(const vxi11::FoundCall& found, std::string_view data, std::uint32_t reason,
                              vxi11::DeviceError error = vxi11::DeviceError::none) {
  std::string results;
  vxi11::XdrWriter writer(results);
  writer.i32(static_cast<std::int32_t>(error));
  writer.u32(reason);
  writer.opaque(data);
  return reply_to(found, results);
}

class ScriptedInstrument {
 public:
  // The bytes that answer a call; empty: nothing is ever answered.
  using Script = std::function<std::string(const vxi11::FoundCall&)>;

  struct Call {
    vxi11::Procedure procedure;
    std::uint32_t program = 0;
    std::string arguments;
  };

  struct State {
    Script script;
    std::vector<Call> calls;
    std::vector<vxi11::Mapping> mappings;
    std::uint16_t abort_port = 0;
    std::size_t sent = 0;
    std::size_t most_sent = std::numeric_limits<std::size_t>::max();
    bool closes = false;  // at most_sent; else it is silent from there on
    std::string message;  // of device_write so far
  };

  explicit ScriptedInstrument(const boost::asio::any_io_executor& executor, Script script = {})
      : core(executor, on("core"), serve(state)),
        abort(executor, on("abort"), serve(state)),
        portmapper(executor, on("portmapper"), serve(state)) {
    state->script = std::move(script);
    state->abort_port = abort.port();
    state->mappings = {{.program = vxi11::core_program, .version = 1, .port = core.port()}};
  }

  vxi11::Options options() const {
    vxi11::Options options;
    options.portmapper_port = portmapper.port();
    return options;
  }
  static transport::ResourceName name() { return transport::parse_resource_name("TCPIP::127.0.0.1::inst0::INSTR"); }
  std::size_t count(vxi11::Procedure procedure) const {
    std::size_t calls = 0;
    for (const auto& call : state->calls)
      if (call.procedure == procedure && call.program != vxi11::portmapper_program) ++calls;
    return calls;
  }

  // What a well-behaved instrument answers; its every answer is "answer to " and the message.
  static std::string oblige(const vxi11::FoundCall& found, State& state) {
    vxi11::XdrReader reader(found.arguments);
    if (found.call.program == vxi11::portmapper_program) {
      std::string reply;
      vxi11::begin_record(reply);
      std::string record;
      vxi11::append_call(record, found.call);
      record += found.arguments;
      if (!vxi11::answer_portmapper(record, state.mappings, reply)) return {};
      vxi11::end_record(reply);
      return reply;
    }
    switch (static_cast<vxi11::Procedure>(found.call.procedure)) {
      case vxi11::Procedure::create_link:
        return reply_with(found, vxi11::CreatedLink{vxi11::DeviceError::none, 0, state.abort_port, 1024});
      case vxi11::Procedure::device_write: {
        vxi11::Write call;
        vxi11::read(reader, call, 1U << 30U);
        if (state.message.ends_with('\n')) state.message.clear();
        state.message += call.data;
        return reply_with(found, vxi11::Written{vxi11::DeviceError::none, call.head.data_bytes});
      }
      case vxi11::Procedure::device_read: return reply_data(found, "answer to " + state.message, vxi11::reason_end);
      case vxi11::Procedure::device_readstb:
        return reply_with(found, vxi11::StatusByte{vxi11::DeviceError::none, 0x40});
      default: return reply_error(found, vxi11::DeviceError::none);
    }
  }

  std::shared_ptr<State> state = std::make_shared<State>();
  vxi11::Listener core, abort, portmapper;

 private:
  static vxi11::ListenOn on(const char* what) {
    return {.address = boost::asio::ip::make_address("127.0.0.1"), .port = 0, .what = what};
  }
  static vxi11::Listener::Serve serve(std::shared_ptr<State> state) {
    return
        [state = std::move(state)](boost::asio::ip::tcp::socket socket) { return converse(std::move(socket), state); };
  }

  static task<> converse(boost::asio::ip::tcp::socket socket, std::shared_ptr<State> state) {
    vxi11::RecordStream stream(std::move(socket), std::size_t{64} << 20U);
    std::string record;
    bool silent = false;
    try {
      for (;;) {
        co_await stream.next_record();
        co_await stream.read_rest(record);
        const auto found = vxi11::read_call(record);
        state->calls.push_back(
            {static_cast<vxi11::Procedure>(found.call.procedure), found.call.program, std::string(found.arguments)});
        std::string bytes = state->script ? state->script(found) : oblige(found, *state);
        const std::size_t left = state->most_sent - std::min(state->most_sent, state->sent);
        silent = silent || bytes.size() > left;
        const std::size_t most = silent ? std::min(left, bytes.size()) : bytes.size();
        state->sent += most;
        co_await boost::asio::async_write(stream.socket, boost::asio::buffer(bytes.data(), most),
                                          boost::asio::use_awaitable);
        if (silent && state->closes) co_return;
        while (silent) {  // until the client is gone
          co_await stream.next_record();
          co_await stream.read_rest(record);
        }
      }
    } catch (const boost::system::system_error&) {
      co_return;
    } catch (const vxi11::WireFault&) {
      co_return;
    }
  }
};

}  // namespace eyelevel::test
