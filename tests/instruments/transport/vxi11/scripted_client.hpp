// SPDX-License-Identifier: Apache-2.0
// Our VXI-11 client against an instrument whose every byte a test decides.
#pragma once

#include <catch2/catch.hpp>

#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "tests/instruments/transport/vxi11/scripted_instrument.hpp"
#include "tests/support/error_in.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

using transport::Session;

using Body = std::function<task<>(base::Timeline&, ScriptedInstrument&)>;

inline task<> on_instrument(base::Timeline& timeline, const Body& body) {
  ScriptedInstrument instrument(co_await boost::asio::this_coro::executor);
  co_await body(timeline, instrument);
}

inline void with_instrument(const Body& body) {
  Wall wall;
  wall.run(on_instrument(*wall.timeline, body));
}

// Answers one procedure by hand, the rest as a well-behaved instrument does.
inline void answer(ScriptedInstrument& instrument, vxi11::Procedure procedure,
                   std::function<std::string(const vxi11::FoundCall&)> by_hand) {
  auto inner = instrument.state->script;
  instrument.state->script = [state = instrument.state.get(), procedure, inner,
                              by_hand](const vxi11::FoundCall& found) {
    if (found.call.program != vxi11::portmapper_program &&
        found.call.procedure == static_cast<std::uint32_t>(procedure))
      return by_hand(found);
    return inner ? inner(found) : ScriptedInstrument::oblige(found, *state);
  };
}

inline task<std::optional<base::ErrorRecord>> error_of_query(Session& session, base::Duration within) {
  return error_in([&session, within] { return session.query("x?", within); });
}

inline task<std::unique_ptr<Session>> opened(base::Timeline& timeline, const ScriptedInstrument& instrument) {
  co_return std::make_unique<Session>(timeline,
                                      co_await vxi11::connect(ScriptedInstrument::name(), instrument.options()));
}

inline task<> open_and_ask(base::Timeline& timeline, const ScriptedInstrument& instrument,
                           std::unique_ptr<Session>& session, std::string& answer) {
  session = co_await opened(timeline, instrument);
  answer = co_await session->query("x?", std::chrono::hours(1));
}

// A query whose answer never comes, up to the moment when it is waited for, however busy the machine is.
inline task<> ask_in_vain(Session& session, ScriptedInstrument& instrument) {
  answer(instrument, vxi11::Procedure::device_read, [](const vxi11::FoundCall&) { return std::string(); });
  const std::size_t before = instrument.count(vxi11::Procedure::device_read);
  for (base::Duration wait = std::chrono::milliseconds(15); instrument.count(vxi11::Procedure::device_read) == before;
       wait *= 2) {
    const auto error = co_await error_of_query(session, wait);
    REQUIRE(error);
    CHECK(error->code == base::ErrorCode::time_out);
  }
  instrument.state->script = {};
  instrument.state->calls.clear();
}

inline std::vector<vxi11::Write> writes_of(const ScriptedInstrument& instrument) {
  std::vector<vxi11::Write> writes;
  for (const auto& call : instrument.state->calls) {
    if (call.procedure != vxi11::Procedure::device_write) continue;
    vxi11::XdrReader reader(call.arguments);
    vxi11::read(reader, writes.emplace_back(), 1U << 30U);
  }
  return writes;
}

inline constexpr base::Duration generous = std::chrono::seconds(10);
inline constexpr base::Duration short_wait = std::chrono::milliseconds(15);
// The zeros behind the last byte of an answer are not waited for.
inline constexpr std::size_t answer_padding = vxi11::padding_of(std::string_view("answer to x?\n").size());

}  // namespace eyelevel::test
