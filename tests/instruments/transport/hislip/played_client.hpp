// SPDX-License-Identifier: Apache-2.0
// Our client against a server that a test plays message by message, both to their ends.
#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <string>
#include <utility>

#include "core/base/deadline.hpp"
#include "core/base/error.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "tests/instruments/transport/hislip/peer.hpp"
#include "tests/support/error_in.hpp"
#include "tests/support/run_task.hpp"

namespace eyelevel::test {

inline constexpr base::Duration generous = std::chrono::seconds(10);
inline constexpr base::Duration short_wait = std::chrono::milliseconds(30);

// What the client does while the server plays its part.
using Client = std::function<task<>(base::Timeline&, transport::ResourceName)>;

inline task<> together(base::Timeline& timeline, PlayedServer::Part part, const Client& client) {
  PlayedServer server(co_await boost::asio::this_coro::executor, std::move(part));
  co_await client(timeline, server.name());
  REQUIRE(co_await base::finished_within(timeline, generous, server.ended()));
}

inline void play(PlayedServer::Part part, const Client& client) {
  Wall wall;
  wall.run(together(*wall.timeline, std::move(part), client));
}

// The client that only tries to connect, and the words of its failure.
inline Client fails_to_connect(std::string words) {
  return [words](base::Timeline&, transport::ResourceName name) -> task<> {
    const auto error = co_await error_of([&]() -> task<> { co_await transport::hislip::connect(name); });
    CHECK(error.code == base::ErrorCode::no_connection);
    CHECK(error.where == name.canonical());
    CHECK_THAT(error.message, Catch::Contains(words));
    CHECK_FALSE(error.advice.empty());
  };
}

// Asks for one answer, and the words of its failure.
inline Client fails_to_query(std::string words, base::ErrorCode code = base::ErrorCode::bad_answer,
                             transport::hislip::ClientOptions options = {}) {
  return [words, code, options](base::Timeline&, transport::ResourceName name) -> task<> {
    const auto link = co_await transport::hislip::connect(name, options);
    transport::Buffer answer;
    co_await link->write("?");
    const auto error = co_await error_of([&]() -> task<> { co_await link->read(answer); });
    CHECK(error.code == code);
    CHECK(error.where == name.canonical());
    CHECK_THAT(error.message, Catch::Contains(words));
  };
}

inline task<Message> query_of(RawClient& peer) { co_return co_await next_message(peer.sync, MessageType::data_end); }

inline Header answer_to(const Message& query) { return {MessageType::data_end, 0, query.header.parameter}; }

}  // namespace eyelevel::test
