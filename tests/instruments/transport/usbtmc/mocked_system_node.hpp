// SPDX-License-Identifier: Apache-2.0
// For tests: /dev/usbtmc0 of a system that has none. umockdev hands its system calls to this class, which does what the
// driver of Linux does (drivers/usb/class/usbtmc.c; transfers in pieces of 4096 bytes, reads that end what is written)
// with the instrument's half of USBTMC on the test's loop. The program must run with libumockdev-preload.so.0
// preloaded. Calls come on umockdev's thread, and what umockdev gives is touched there only. poll() on the node always
// says ready, so a call that finds nothing waits here for a millisecond.
#pragma once

#include <linux/usb/tmc.h>
#include <sys/ioctl.h>
#include <umockdev.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>

#include <algorithm>
#include <atomic>
#include <cerrno>
#include <chrono>
#include <condition_variable>
#include <cstring>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <stdexcept>
#include <string>
#include <vector>

#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::test {

class MockedSystemNode {
 public:
  using Pipe = transport::usbtmc::Pipe;
  using Moved = transport::usbtmc::Moved;

  MockedSystemNode(boost::asio::any_io_executor loop, std::shared_ptr<Pipe> instrument)
      : loop_(std::move(loop)), state_(std::make_shared<State>()) {
    state_->instrument = std::move(instrument);
    testbed_.reset(umockdev_testbed_new());
    if (umockdev_in_mock_environment() == 0)
      throw std::logic_error("run this program with LD_PRELOAD=libumockdev-preload.so.0");
    handler_.reset(umockdev_ioctl_base_new());
    g_signal_connect(handler_.get(), "handle-ioctl", G_CALLBACK(&MockedSystemNode::on_ioctl), this);
    if (umockdev_testbed_attach_ioctl(testbed_.get(), path, handler_.get(), nullptr) == 0)
      throw std::logic_error("umockdev does not attach");
    add("P: /devices/usb1/1-1\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_device\nA: idVendor=1234\\n\nA: idProduct=5678\\n\n"
        "A: serial=EY-0001\\n\n");
    add("P: /devices/usb1/1-1/1-1:1.0\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_interface\nA: bInterfaceNumber=00\\n\n"
        "A: bInterfaceProtocol=01\\n\n");
    endpoint("01", "Bulk", 512);
    endpoint("81", "Bulk", 512);
    endpoint("82", "Interrupt", 8);
    add("P: /devices/usb1/1-1/1-1:1.0/usbmisc/usbtmc0\nN: usbtmc0\nE: SUBSYSTEM=usbmisc\nE: DEVNAME=/dev/usbtmc0\n"
        "L: device=../../../1-1:1.0\n");
    watch_interrupts();
  }
  MockedSystemNode(const MockedSystemNode&) = delete;
  MockedSystemNode& operator=(const MockedSystemNode&) = delete;
  ~MockedSystemNode() {
    unplug();
    wait_until_closed();
    umockdev_testbed_detach_ioctl(testbed_.get(), path, nullptr);
    testbed_.reset();
    handler_.reset();
  }

  // In the place of one that is gone; on the loop.
  void plug_in(std::shared_ptr<Pipe> instrument) {
    {
      const std::scoped_lock lock(state_->mutex);
      state_->instrument->close();
      state_->instrument = std::move(instrument);
      state_->in.reset();
      state_->out.reset();
      state_->service_requested = false;
    }
    watch_interrupts();
  }

  void unplug() {
    {
      const std::scoped_lock lock(state_->mutex);
      state_->gone = true;
    }
    state_->instrument->close();
    state_->changed.notify_all();
  }

  // How often the transfers under way were dropped, with whatever had come.
  int cleanups() const { return cleanups_; }

  static constexpr const char* path = "/dev/usbtmc0";

 private:
  struct Unref {
    void operator()(gpointer object) const { g_object_unref(object); }
  };
  using IoctlData = std::unique_ptr<UMockdevIoctlData, Unref>;
  using Client = std::unique_ptr<UMockdevIoctlClient, Unref>;

  static constexpr std::size_t piece_bytes = 4096;
  static constexpr std::size_t most_written_at_once = 16 * piece_bytes;

  struct Transfer {
    std::string bytes;
    boost::asio::cancellation_signal cancel;
    bool flying = false;
    std::optional<Moved> result;
  };

  // Shared with what is under way on the loop.
  struct State {
    std::shared_ptr<Pipe> instrument;
    std::mutex mutex;
    std::condition_variable changed;
    bool gone = false;
    std::shared_ptr<Transfer> in;
    std::shared_ptr<Transfer> out;
    bool service_requested = false;
    std::uint8_t service_status = 0;
    std::optional<std::uint8_t> status_notified;
    std::uint8_t status_tag = 2;
  };

  void add(const std::string& text) {
    if (umockdev_testbed_add_from_string(testbed_.get(), text.c_str(), nullptr) == 0)
      throw std::logic_error("umockdev does not take: " + text);
  }

  void endpoint(const std::string& address, const std::string& type, int packet) {
    char size[8];
    std::snprintf(size, sizeof size, "%04x", static_cast<unsigned>(packet));
    add("P: /devices/usb1/1-1/1-1:1.0/ep_" + address + "\nE: SUBSYSTEM=usb_endpoint\nA: bEndpointAddress=" + address +
        "\\n\nA: type=" + type + "\\n\nA: wMaxPacketSize=" + size + "\\n\n");
  }

  // See MockedPort: a call that is under way while umockdev detaches is never answered.
  void wait_until_closed() {
    std::unique_lock lock(state_->mutex);
    const auto is_closed = [](const Client& client) { return umockdev_ioctl_client_get_connected(client.get()) == 0; };
    while (!std::all_of(clients_.begin(), clients_.end(), is_closed))
      state_->changed.wait_for(lock, std::chrono::milliseconds(1));
  }

  // --- on the loop ---

  static task<> interrupts(std::shared_ptr<State> state) {
    const auto instrument = state->instrument;
    std::string packet(8, '\0');
    for (;;) {
      const auto moved = co_await instrument->interrupt_in(packet);
      if (moved.trouble != transport::usbtmc::Trouble::none) co_return;
      const auto found = transport::usbtmc::read_interrupt(std::string_view(packet).substr(0, moved.bytes));
      const std::scoped_lock lock(state->mutex);
      if (found.kind == transport::usbtmc::InterruptPacket::Kind::service_request) {
        state->service_requested = true;
        state->service_status = found.status_byte;
      } else {
        state->status_notified = found.status_byte;
      }
      state->changed.notify_all();
    }
  }
  void watch_interrupts() {
    boost::asio::co_spawn(loop_, interrupts(state_), [](const std::exception_ptr& error) {
      if (error) std::rethrow_exception(error);
    });
  }

  static task<Moved> move(std::shared_ptr<Pipe> pipe, std::shared_ptr<Transfer> transfer, bool in) {
    if (in) co_return co_await pipe->bulk_in(transfer->bytes);
    co_return co_await pipe->bulk_out(transfer->bytes);
  }
  void begin(const std::shared_ptr<Transfer>& transfer, bool in) {
    transfer->flying = true;
    boost::asio::post(loop_, [loop = loop_, state = state_, transfer, in] {
      boost::asio::co_spawn(
          loop, move(state->instrument, transfer, in),
          boost::asio::bind_cancellation_slot(transfer->cancel.slot(),
                                              [state, transfer](const std::exception_ptr& error, const Moved& moved) {
                                                const std::scoped_lock lock(state->mutex);
                                                if (!error) transfer->result = moved;
                                                state->changed.notify_all();
                                              }));
    });
  }

  // What the kernel calls killing: nobody is to have its bytes. Its end is not waited for as there: the loop does one
  // after the other, and a cancelled transfer of the instrument's half moves nothing of what is begun later.
  void kill(std::shared_ptr<Transfer>& transfer) {
    if (!transfer) return;
    boost::asio::post(loop_, [killed = std::exchange(transfer, nullptr)] {
      killed->cancel.emit(boost::asio::cancellation_type::terminal);
    });
  }

  // --- on umockdev's thread ---

  static gboolean on_ioctl(UMockdevIoctlBase*, UMockdevIoctlClient* client, gpointer self) {
    auto* node = static_cast<MockedSystemNode*>(self);
    node->remember(client);
    const int told = node->ioctl(client);
    if (told == -ENOTTY) return FALSE;
    umockdev_ioctl_client_complete(client, told < 0 ? -1 : told, told < 0 ? -told : 0);
    return TRUE;
  }

  void remember(UMockdevIoctlClient* client) {
    const std::scoped_lock lock(state_->mutex);
    for (const Client& one : clients_)
      if (one.get() == client) return;
    clients_.emplace_back(UMOCKDEV_IOCTL_CLIENT(g_object_ref(client)));
  }

  template <class T>
  static void put(UMockdevIoctlData* argument, const T& value) {
    const IoctlData data(umockdev_ioctl_data_resolve(argument, 0, sizeof value, nullptr));
    std::memcpy(data->data, &value, sizeof value);
  }

  static int code_of(const Moved& moved) {
    switch (moved.trouble) {
      case transport::usbtmc::Trouble::none: return 0;
      case transport::usbtmc::Trouble::stall: return -EPIPE;
      case transport::usbtmc::Trouble::gone: return -ESHUTDOWN;
      case transport::usbtmc::Trouble::overflow: return -EOVERFLOW;
      case transport::usbtmc::Trouble::other: return -EPROTO;
    }
    return -EPROTO;
  }

  int ioctl(UMockdevIoctlClient* client) {
    UMockdevIoctlData* const argument = umockdev_ioctl_client_get_arg(client);
    {
      const std::scoped_lock lock(state_->mutex);
      if (state_->gone) return -ENODEV;
    }
    switch (umockdev_ioctl_client_get_request(client)) {
      case USBTMC_IOCTL_API_VERSION: put(argument, std::uint32_t{3}); return 0;
      case USBTMC_IOCTL_READ: return read(argument);
      case USBTMC_IOCTL_WRITE: return write(argument);
      case USBTMC_IOCTL_WRITE_RESULT: return write_result(argument);
      case USBTMC_IOCTL_CLEANUP_IO: {
        ++cleanups_;
        const std::scoped_lock lock(state_->mutex);
        kill(state_->in);
        kill(state_->out);
        return 0;
      }
      case USBTMC_IOCTL_CLEAR_IN_HALT: return clear_halt(0x81);
      case USBTMC_IOCTL_CLEAR_OUT_HALT: return clear_halt(0x01);
      case USBTMC_IOCTL_CTRL_REQUEST: return control(argument);
      case USBTMC_IOCTL_GET_STB: return get_status(argument);
      case USBTMC488_IOCTL_WAIT_SRQ: {
        std::unique_lock lock(state_->mutex);
        const bool came = state_->changed.wait_for(lock, std::chrono::milliseconds(1),
                                                   [this] { return state_->service_requested || state_->gone; });
        return state_->gone ? -ENODEV : came ? 0 : -ETIMEDOUT;
      }
      case USBTMC_IOCTL_GET_SRQ_STB: {
        const std::scoped_lock lock(state_->mutex);
        if (!std::exchange(state_->service_requested, false)) return -ENOMSG;
        put(argument, state_->service_status);
        return 0;
      }
      default: return -ENOTTY;
    }
  }

  // The end of a read ends what is being written, as in the driver.
  int read(UMockdevIoctlData* argument) {
    const IoctlData message(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbtmc_message), nullptr));
    std::unique_lock lock(state_->mutex);
    if (!state_->in) {
      state_->in = std::make_shared<Transfer>();
      state_->in->bytes.resize(piece_bytes);
      begin(state_->in, true);
    }
    const auto transfer = state_->in;
    if (!state_->changed.wait_for(lock, std::chrono::milliseconds(1), [&] { return transfer->result.has_value(); }))
      return -EAGAIN;
    state_->in.reset();
    kill(state_->out);
    if (const int code = code_of(*transfer->result); code != 0) return code;
    const auto count = static_cast<std::uint32_t>(transfer->result->bytes);
    std::memcpy(message->data + offsetof(usbtmc_message, transferred), &count, sizeof count);
    const IoctlData into(
        umockdev_ioctl_data_resolve(message.get(), offsetof(usbtmc_message, message), piece_bytes, nullptr));
    std::memcpy(into->data, transfer->bytes.data(), count);
    return count < piece_bytes ? 1 : 0;
  }

  int write(UMockdevIoctlData* argument) {
    const IoctlData message(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbtmc_message), nullptr));
    usbtmc_message asked{};
    std::memcpy(&asked, message->data, sizeof asked);
    const auto count = static_cast<std::uint32_t>(std::min<std::size_t>(asked.transfer_size, most_written_at_once));
    const IoctlData from(
        umockdev_ioctl_data_resolve(message.get(), offsetof(usbtmc_message, message), asked.transfer_size, nullptr));
    const std::scoped_lock lock(state_->mutex);
    if ((asked.flags & USBTMC_FLAG_APPEND) == 0 || !state_->out) state_->out = std::make_shared<Transfer>();
    state_->out->bytes.append(reinterpret_cast<const char*>(from->data), count);
    std::memcpy(message->data + offsetof(usbtmc_message, transferred), &count, sizeof count);
    // The instrument's half wants whole transfers.
    const auto header = transport::usbtmc::read_header(state_->out->bytes);
    const std::size_t data = header && header->msg_id == 1 ? header->transfer_size : 0;
    const std::size_t whole = transport::usbtmc::header_bytes + data;
    if (state_->out->bytes.size() >= whole + transport::usbtmc::padding_after(whole)) begin(state_->out, false);
    return 0;
  }

  int write_result(UMockdevIoctlData* argument) {
    std::unique_lock lock(state_->mutex);
    const auto transfer = state_->out;
    if (!transfer) return -ECANCELED;
    if (transfer->flying)
      state_->changed.wait_for(lock, std::chrono::milliseconds(1), [&] { return transfer->result.has_value(); });
    if (!transfer->result) {
      put(argument, std::uint32_t{0});
      return 0;
    }
    put(argument, static_cast<std::uint32_t>(transfer->result->bytes));
    return code_of(*transfer->result);
  }

  // The kernel waits as long for an instrument that does not answer.
  template <class Call>
  std::optional<Moved> on_loop(Call call) {
    const auto transfer = std::make_shared<Transfer>();
    boost::asio::post(loop_, [loop = loop_, state = state_, transfer, call] {
      boost::asio::co_spawn(
          loop, call(state->instrument, transfer),
          boost::asio::bind_cancellation_slot(transfer->cancel.slot(),
                                              [state, transfer](const std::exception_ptr& e, const Moved& m) {
                                                const std::scoped_lock lock(state->mutex);
                                                if (!e) transfer->result = m;
                                                state->changed.notify_all();
                                              }));
    });
    std::unique_lock lock(state_->mutex);
    state_->changed.wait_for(lock, std::chrono::seconds(5), [&] { return transfer->result || state_->gone; });
    auto result = transfer->result;
    if (!result) {
      auto waiting = transfer;
      kill(waiting);
    } else {
      answered_ = transfer->bytes;
    }
    return result;
  }

  int clear_halt(std::uint8_t endpoint) {
    const auto moved = on_loop([endpoint](std::shared_ptr<Pipe> pipe, std::shared_ptr<Transfer>) -> task<Moved> {
      return halt_cleared(std::move(pipe), endpoint);
    });
    return moved ? code_of(*moved) : -ETIMEDOUT;
  }
  static task<Moved> halt_cleared(std::shared_ptr<Pipe> pipe, std::uint8_t endpoint) {
    co_return co_await pipe->clear_halt(endpoint);
  }

  static task<Moved> asked(std::shared_ptr<Pipe> pipe, std::shared_ptr<Transfer> transfer,
                           transport::usbtmc::Setup setup) {
    transfer->bytes.resize(setup.length);
    co_return co_await pipe->control(setup, transfer->bytes);
  }
  std::optional<Moved> ask(const transport::usbtmc::Setup& setup) {
    return on_loop([setup](std::shared_ptr<Pipe> pipe, std::shared_ptr<Transfer> transfer) {
      return asked(std::move(pipe), std::move(transfer), setup);
    });
  }

  int control(UMockdevIoctlData* argument) {
    const IoctlData request(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbtmc_ctrlrequest), nullptr));
    usbtmc_ctrlrequest raw{};
    std::memcpy(&raw, request->data, sizeof raw);
    const auto moved = ask({raw.req.bRequestType, raw.req.bRequest, raw.req.wValue, raw.req.wIndex, raw.req.wLength});
    if (!moved) return -ETIMEDOUT;
    if (const int code = code_of(*moved); code != 0) return code;
    const IoctlData into(
        umockdev_ioctl_data_resolve(request.get(), offsetof(usbtmc_ctrlrequest, data), raw.req.wLength, nullptr));
    std::memcpy(into->data, answered_.data(), moved->bytes);
    return static_cast<int>(moved->bytes);
  }

  int get_status(UMockdevIoctlData* argument) {
    using transport::usbtmc::Request;
    {
      const std::scoped_lock lock(state_->mutex);
      state_->status_notified.reset();
      state_->status_tag = transport::usbtmc::next_status_tag(state_->status_tag);
    }
    const auto moved = ask(transport::usbtmc::setup_of(Request::read_status_byte, state_->status_tag, 0));
    if (!moved) return -ETIMEDOUT;
    if (const int code = code_of(*moved); code != 0) return code;
    std::unique_lock lock(state_->mutex);
    if (!state_->changed.wait_for(lock, std::chrono::seconds(5),
                                  [this] { return state_->status_notified.has_value(); }))
      return -ETIMEDOUT;
    put(argument, *state_->status_notified);
    return 0;
  }

  boost::asio::any_io_executor loop_;
  std::shared_ptr<State> state_;
  std::unique_ptr<UMockdevTestbed, Unref> testbed_;
  std::unique_ptr<UMockdevIoctlBase, Unref> handler_;
  std::vector<Client> clients_;  // each an opened node
  std::string answered_;         // umockdev's thread only
  std::atomic<int> cleanups_ = 0;
};

}  // namespace eyelevel::test
