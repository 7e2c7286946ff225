// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/vxi11/exchange.hpp"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>

#include <algorithm>
#include <utility>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"

namespace eyelevel::transport::vxi11 {
namespace asio = boost::asio;
namespace {

constexpr std::size_t most_queued_items = 64;
constexpr int interrupted = -410, unterminated_error = -420;

}  // namespace

// What is executed. Its coroutine owns it, so that a device which is slow to notice its cancellation answers nobody.
struct Exchange::Work {
  bool is_cancelled = false;
  Reply reply;
  asio::cancellation_signal stop;
};

Exchange::Exchange(asio::any_io_executor executor, std::shared_ptr<Device> device, std::size_t most_message_bytes)
    : executor_(std::move(executor)),
      device_(std::move(device)),
      most_bytes_(most_message_bytes),
      framer_(socket::Direction::program, most_message_bytes) {}

Exchange::Taken Exchange::take(std::string_view bytes, bool end) {
  if (!bytes.empty()) arrives();
  if (bytes.size() > most_bytes_ - std::min(most_bytes_, input_.size())) {
    input_.clear();
    framer_.reset();
    return Taken::too_long;
  }
  input_ += bytes;
  while (!beyond_framing_ && !input_.empty()) {
    const auto found = framer_.scan(input_);
    beyond_framing_ = !found.fault.empty();
    if (!found.complete) break;
    Item item;
    if (found.consumed == input_.size()) {
      item.message = std::exchange(input_, {});
      item.message.resize(found.message_bytes);
    } else {
      item.message = input_.substr(0, found.message_bytes);
      input_.erase(0, found.consumed);
    }
    framer_.reset();
    push(std::move(item));  // may execute it at once
  }
  if (end) {
    Item item{std::exchange(input_, {}), false};
    framer_.reset();
    beyond_framing_ = false;
    if (!item.message.empty()) push(std::move(item));
  }
  return Taken::all;
}

void Exchange::trigger() {
  arrives();
  push({{}, true});
}

bool Exchange::has_room() const { return queue_.size() < most_queued_items && queued_bytes_ < most_bytes_; }

void Exchange::clear() {
  cancel();
  input_.clear();
  framer_.reset();
  beyond_framing_ = false;
  queue_.clear();
  queued_bytes_ = 0;
  drop_output();
  close_ = false;
  device_->clear();
  changed.strike();
}

void Exchange::stop() noexcept {
  cancel();
  queue_.clear();
  changed.strike();
}

void Exchange::cancel() noexcept {
  if (!work_) return;
  const auto work = std::exchange(work_, nullptr);
  work->is_cancelled = true;
  work->stop.emit(asio::cancellation_type::terminal);
}

void Exchange::unterminated() {
  input_.clear();
  framer_.reset();
  beyond_framing_ = false;
  device_->query_error(unterminated_error);
}

Exchange::Piece Exchange::peek(std::size_t most_bytes, std::optional<char> term_char) const {
  Piece piece;
  piece.bytes = std::string_view(output_).substr(output_at_, manner_.pace ? 1 : most_bytes);
  if (term_char) {
    const auto at = piece.bytes.find(*term_char);
    piece.ends_at_char = at != std::string_view::npos;
    if (piece.ends_at_char) piece.bytes = piece.bytes.substr(0, at + 1);
  }
  piece.ends_message = output_ends_ && output_at_ + piece.bytes.size() == output_.size();
  return piece;
}

void Exchange::took(std::size_t bytes) {
  output_at_ += bytes;
  if (has_output()) return;
  if (manner_.endless) {
    output_at_ = 0;
  } else {
    drop_output();
  }
}

// A new message, or a trigger, where a response is still unread.
void Exchange::arrives() {
  if (!has_output()) return;
  drop_output();
  device_->query_error(interrupted);
}

void Exchange::push(Item item) {
  queued_bytes_ += item.message.size();
  queue_.push_back(std::move(item));
  work_on();
}

void Exchange::work_on() {
  if (work_ || queue_.empty()) return;
  work_ = std::make_shared<Work>();
  // The same memory from answer to answer: fresh pages cost a large one many times what its bytes do.
  if (!has_output()) work_->reply.bytes.swap(output_);
  asio::co_spawn(executor_, execute(shared_from_this(), work_),
                 asio::bind_cancellation_slot(work_->stop.slot(), [work = work_](const std::exception_ptr& error) {
                   // Anything but an end by cancellation is a defect of the device: it ends the loop's run() loudly.
                   if (error && !detail::is_cancellation(error)) std::rethrow_exception(error);
                 }));
}

task<> Exchange::execute(std::shared_ptr<Exchange> self, std::shared_ptr<Work> work) {
  const auto device = self->device_;
  while (!work->is_cancelled && !self->queue_.empty()) {
    const Item item = std::move(self->queue_.front());
    self->queue_.pop_front();
    self->queued_bytes_ -= item.message.size();
    work->reply.reset();
    if (item.is_trigger) {
      co_await device->trigger();
    } else {
      co_await device->execute(item.message, work->reply);
    }
    if (work->is_cancelled) co_return;
    self->put_output(work->reply);
    if (self->queue_.empty()) {
      self->work_ = nullptr;
      if (!self->has_output()) {
        self->output_.swap(work->reply.bytes);
        self->drop_output();
      }
    }
    self->changed.strike();
  }
}

void Exchange::put_output(Reply& reply) {
  close_ = close_ || reply.close_after;
  if (reply.bytes.empty()) return;
  if (!queue_.empty() || !input_.empty()) {  // the next message is there before anyone could read the answer
    device_->query_error(interrupted);
    return;
  }
  output_ends_ = reply.terminated;
  if (output_ends_) reply.bytes += '\n';
  output_.swap(reply.bytes);
  manner_ = reply;
  manner_.bytes.clear();
  output_at_ = 0;
  device_->answer_waits();
}

void Exchange::drop_output() {
  output_.clear();
  output_at_ = 0;
  output_ends_ = false;
}

}  // namespace eyelevel::transport::vxi11
