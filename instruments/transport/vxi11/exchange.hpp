// SPDX-License-Identifier: Apache-2.0
// The message exchange of one link with a device (IEEE 488.2, chapter 6): an input queue of program messages and
// triggers, executed in their order, and an output queue of one response message. A message that comes, or waits, while
// a response is unread drops it: INTERRUPTED (-410); reading where nothing will come is UNTERMINATED (-420). No I/O and
// no clock; whoever waits, waits on `changed` and looks again. One thread.
#pragma once

#include <boost/asio/any_io_executor.hpp>

#include <cstddef>
#include <deque>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "core/base/gong.hpp"
#include "instruments/transport/device.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::vxi11 {

class Exchange : public std::enable_shared_from_this<Exchange> {
 public:
  Exchange(boost::asio::any_io_executor executor, std::shared_ptr<Device> device, std::size_t most_message_bytes);

  // Bytes of program messages; NL ends one (outside of blocks), and so does END behind the last byte.
  enum class Taken { all, too_long };
  Taken take(std::string_view bytes, bool end);
  void trigger();  // group execute trigger, behind what came before
  bool has_room() const;
  // The device clear of IEEE 488.2, 5.8: input, output and what is executed are forgotten.
  void clear();
  // The link is gone: what is executed is cancelled.
  void stop() noexcept;

  bool has_output() const { return output_at_ < output_.size(); }
  bool is_idle() const { return !work_ && queue_.empty(); }
  // The device wants the connection closed once its output is read.
  bool wants_close() const { return close_ && !has_output(); }
  // Someone reads although nothing is there and nothing is being executed.
  void unterminated();

  struct Piece {
    std::string_view bytes;  // valid until took()
    bool ends_at_char = false;
    bool ends_message = false;
  };
  Piece peek(std::size_t most_bytes, std::optional<char> term_char) const;
  // How the output is to be sent, apart from its bytes.
  const Reply& manner() const { return manner_; }
  void took(std::size_t bytes);

  base::Gong changed;

 private:
  struct Item {
    std::string message;
    bool is_trigger = false;
  };
  struct Work;

  static task<> execute(std::shared_ptr<Exchange> self, std::shared_ptr<Work> work);
  void work_on();
  void push(Item item);
  void arrives();
  void put_output(Reply& reply);
  void drop_output();
  void cancel() noexcept;

  boost::asio::any_io_executor executor_;
  std::shared_ptr<Device> device_;
  std::size_t most_bytes_;
  std::string input_;  // of the message under way
  socket::Framer framer_;
  bool beyond_framing_ = false;  // only END can end this message
  std::deque<Item> queue_;
  std::size_t queued_bytes_ = 0;
  std::shared_ptr<Work> work_;  // what is executed
  std::string output_;
  std::size_t output_at_ = 0;
  bool output_ends_ = false;
  Reply manner_;  // without bytes
  bool close_ = false;
};

}  // namespace eyelevel::transport::vxi11
