// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/memory/client.hpp"

#include <fmt/format.h>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/this_coro.hpp>

#include <deque>
#include <exception>
#include <utility>

#include "instruments/transport/detail/bell.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/socket/codec.hpp"

namespace eyelevel::transport::memory {
namespace asio = boost::asio;
namespace {

// What the two sides share. The server's coroutine holds it too, so that either may go first.
struct Pipe {
  explicit Pipe(const asio::any_io_executor& executor) : program_bell(executor), response_bell(executor) {}

  struct Part {
    std::string bytes;
    bool end = true;
  };

  std::deque<std::string> program;
  detail::Bell program_bell;
  std::deque<Part> response;
  std::vector<std::string> spare;  // buffers on their way back
  detail::Bell response_bell;
  bool closed = false;  // by the instrument
  std::string failure;  // what the device threw, if it did
  asio::cancellation_signal stop;

  std::string take_spare() {
    if (spare.empty()) return {};
    std::string buffer = std::move(spare.back());
    spare.pop_back();
    buffer.clear();
    return buffer;
  }
};

task<> converse(std::shared_ptr<Pipe> pipe, std::shared_ptr<Device> device) {
  Reply reply;
  while (!pipe->closed) {
    if (pipe->program.empty()) {
      co_await pipe->program_bell.wait();
      continue;
    }
    const std::string message = std::move(pipe->program.front());
    pipe->program.pop_front();
    reply.bytes = pipe->take_spare();
    reply.reset();
    co_await device->execute(message, reply);
    pipe->closed = reply.close_after;
    if (!reply.bytes.empty()) pipe->response.push_back({std::move(reply.bytes), reply.terminated});
    pipe->response_bell.ring();
  }
}

class MemoryLink final : public Link {
 public:
  MemoryLink(asio::any_io_executor executor, std::shared_ptr<Device> device, std::string name)
      : executor_(std::move(executor)),
        device_(std::move(device)),
        name_(std::move(name)),
        holder_(device_->access.new_holder()) {
    begin();
  }
  ~MemoryLink() override {
    end();
    device_->access.forget(holder_);
  }

  const std::string& resource_name() const override { return name_; }

  task<> write(std::string_view message) override {
    if (!pipe_ || pipe_->closed) lost();
    pipe_->program.emplace_back(message);
    pipe_->program_bell.ring();
    co_return;
  }

  task<> read(Buffer& into, std::size_t most) override {
    into.clear();
    const auto pipe = pipe_;  // stays until this read has ended, whoever closes meanwhile
    if (!pipe) lost();
    for (;;) {
      if (pipe->response.empty()) {
        if (pipe->closed || pipe != pipe_) lost();
        co_await pipe->response_bell.wait();
        continue;
      }
      auto part = std::move(pipe->response.front());
      pipe->response.pop_front();
      if (into.empty()) {
        into.swap(part.bytes);
        pipe->spare.push_back(std::move(part.bytes));
      } else {
        into += part.bytes;
      }
      tell_progress(into);
      if (into.size() > most)
        fail(base::ErrorCode::bad_answer, name_, fmt::format("the answer is longer than the limit of {} bytes", most),
             "ask for fewer points at a time");
      if (part.end) {
        check(into, most);
        co_return;
      }
    }
  }

  task<> clear() override {
    end();
    device_->clear();
    begin();
    co_return;
  }

  task<> trigger() override { return device_->trigger(); }

  task<std::uint8_t> status_byte() override { co_return device_->serial_poll(pipe_ && !pipe_->response.empty()); }

  task<> wait_for_service() override { requests_ = co_await device_->service_requested(requests_); }

  // Everybody is in one process here: whoever holds the lock must let go before anybody else can go on, so nobody
  // waits.
  task<> lock(std::string key, base::Duration /*wait*/) override {
    auto& access = device_->access;
    if (access.holds_exclusive(holder_) || (!key.empty() && access.holds_shared(holder_)))
      fail(base::ErrorCode::bad_input, name_, "the lock is held already", "release it once for each time it was taken");
    if (!access.take(holder_, key))
      fail(base::ErrorCode::no_connection, name_, "someone else has locked the instrument", "release it there");
    co_return;
  }

  task<> unlock() override {
    if (device_->access.release(holder_) == AccessLock::Released::nothing)
      fail(base::ErrorCode::bad_input, name_, "no lock is held", "lock first");
    co_return;
  }

  task<> remote_local(RemoteLocal what) override {
    device_->remote_local(what);
    co_return;
  }

  void close() noexcept override { end(); }

 private:
  void begin() {
    pipe_ = std::make_shared<Pipe>(executor_);
    asio::co_spawn(executor_, converse(pipe_, device_),
                   asio::bind_cancellation_slot(pipe_->stop.slot(), [pipe = pipe_](const std::exception_ptr& error) {
                     pipe->closed = true;
                     if (error) keep_failure(*pipe, error);
                     pipe->response_bell.ring();
                   }));
  }

  void end() noexcept {
    if (!pipe_) return;
    const auto pipe = std::move(pipe_);
    pipe_ = nullptr;
    pipe->stop.emit(asio::cancellation_type::terminal);
    pipe->response_bell.ring();
  }

  static void keep_failure(Pipe& pipe, const std::exception_ptr& error) {
    try {
      std::rethrow_exception(error);
    } catch (const boost::system::system_error& e) {
      if (e.code() != asio::error::operation_aborted) pipe.failure = e.what();
    } catch (const std::exception& e) {
      pipe.failure = e.what();
    }
  }

  [[noreturn]] void lost() const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::connection_lost;
    record.where = name_;
    record.message = "the instrument closed the connection";
    record.advice = "look whether the instrument restarted";
    if (pipe_) record.cause = pipe_->failure;
    throw TransportError(std::move(record));
  }

  // The end of the message is known here, so a block header that says otherwise is told at once.
  void check(const Buffer& answer, std::size_t most) const {
    socket::Framer framer(socket::Direction::response, most);
    const auto found = framer.scan(answer);
    if (!found.complete && found.fault.empty() && found.missing == 0) return;
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = name_;
    record.message = !found.fault.empty() ? found.fault
                     : found.complete     ? "the answer goes on after its end"
                                          : fmt::format("a block ends {} bytes too early", found.missing - 1);
    record.received = answer.substr(0, 400);
    record.expected = "one response message";
    record.advice = "ask again; if it stays so, ask for fewer points";
    throw TransportError(std::move(record));
  }

  asio::any_io_executor executor_;
  std::shared_ptr<Device> device_;
  std::string name_;
  AccessLock::Holder holder_;
  std::uint64_t requests_ = 0;  // for service, that wait_for_service() has told
  std::shared_ptr<Pipe> pipe_;
};

}  // namespace

task<std::unique_ptr<Link>> connect(std::shared_ptr<Device> device, std::string resource_name) {
  const auto executor = co_await asio::this_coro::executor;
  co_return std::make_unique<MemoryLink>(executor, std::move(device), std::move(resource_name));
}

}  // namespace eyelevel::transport::memory
