// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/exchange.hpp"

#include <utility>

namespace eyelevel::transport::hislip {

ClientExchange::Stamp ClientExchange::stamp_message() {
  last_sent_ = next_;
  next_ += 2;
  return {last_sent_, std::exchange(rmt_delivered_, false)};
}

ClientExchange::Stamp ClientExchange::stamp_status_query() {
  return {mode_ == Mode::overlapped ? last_delivered_ : last_sent_, std::exchange(rmt_delivered_, false)};
}

ClientExchange::Take ClientExchange::on_data(std::uint32_t id, bool end) {
  // The asynchronous half of an interruption came first: everything is old until the synchronous one comes.
  if (waits_for_interrupted()) return Take::drop;
  if (mode_ == Mode::overlapped) return is_counted(id, end) ? Take::keep : Take::out_of_count;
  if (id == last_sent_) return Take::keep;
  if (!end && id == unknown_message_id) return Take::keep;
  return Take::drop;
}

// The server counts its messages by two (3.2). One that counts its responses instead, so that all messages of one
// response have its id, is understood as well.
bool ClientExchange::is_counted(std::uint32_t id, bool end) {
  const bool same_response = within_response_ && id == next_from_server_ - 2;
  if (id != next_from_server_ && !same_response) return false;
  if (!same_response) next_from_server_ += 2;
  within_response_ = !end;
  return true;
}

void ClientExchange::delivered(std::uint32_t id) {
  last_delivered_ = id;
  rmt_delivered_ = true;
}

void ClientExchange::on_interrupted() { ++interrupted_; }
void ClientExchange::on_async_interrupted() { ++async_interrupted_; }

bool ServerExchange::on_message(std::uint32_t id, bool rmt_delivered) {
  last_received_ = id;
  const bool wrong = mode_ == Mode::synchronised && rmt_expected_ != rmt_delivered;
  rmt_expected_ = false;
  if (rmt_delivered || wrong) available_ = false;
  return wrong;
}

std::uint32_t ServerExchange::response_id(std::uint32_t request_id) {
  return mode_ == Mode::overlapped ? std::exchange(next_, next_ + 2) : request_id;
}

void ServerExchange::response_begins(std::uint32_t id) {
  available_ = true;
  last_response_ = id;
}

void ServerExchange::response_ends() { rmt_expected_ = true; }

bool ServerExchange::message_available(std::uint32_t query_id, bool rmt_delivered) {
  if (mode_ == Mode::overlapped) return last_response_ != before_first_id && last_response_ != query_id;
  if (rmt_delivered) {
    rmt_expected_ = false;
    available_ = false;
  }
  return available_ && query_id == last_received_;
}

bool is_behind(std::uint32_t id, std::uint32_t other) { return id != other && other - id < 0x80000000U; }

RemoteSwitches::Change RemoteSwitches::request(std::uint8_t code) {
  switch (code) {
    case 0:  // disable remote
    case 2:  // disable remote and go to local
      remote_enable_ = remote_ = local_lockout_ = false;
      return {true, RemoteLocal::local};
    case 1:  // enable remote
      remote_enable_ = true;
      return {};
    case 3:  // enable remote and go to remote
      remote_enable_ = remote_ = true;
      return {true, local_lockout_ ? RemoteLocal::lockout : RemoteLocal::remote};
    case 4:  // enable remote and lock out local
      remote_enable_ = local_lockout_ = true;
      if (!remote_) return {};
      return {true, RemoteLocal::lockout};
    case 5:  // enable remote, go to remote, lock out local
      remote_enable_ = remote_ = local_lockout_ = true;
      return {true, RemoteLocal::lockout};
    case 6:  // go to local
      remote_ = false;
      return {true, RemoteLocal::local};
    default: return {false, std::nullopt};
  }
}

std::uint8_t request_code(RemoteLocal what) {
  switch (what) {
    case RemoteLocal::remote: return 3;
    case RemoteLocal::lockout: return 5;
    case RemoteLocal::local: return 6;
  }
  return 6;
}

}  // namespace eyelevel::transport::hislip
