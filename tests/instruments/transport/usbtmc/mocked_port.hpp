// SPDX-License-Identifier: Apache-2.0
// For tests: a USB port of the operating system that is not there. libusb, unmodified, opens a device node whose system
// calls umockdev hands to this class, and which are answered by the instrument's half of USBTMC on the test's loop. The
// program must run with libumockdev-preload.so.0 preloaded (tests/CMakeLists.txt sees to that). Calls come on
// umockdev's thread, and what umockdev gives is touched there only: it looks at the data of a call for some time after
// the call was answered. Everything else belongs to the loop's.
#pragma once

#include <linux/usbdevice_fs.h>
#include <sys/ioctl.h>
#include <umockdev.h>
#include <unistd.h>

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <condition_variable>
#include <cstring>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <stdexcept>
#include <string>
#include <vector>

#include "instruments/transport/usbtmc/pipe.hpp"

namespace eyelevel::test {

struct Unref {
  void operator()(gpointer object) const { g_object_unref(object); }
};
using IoctlData = std::unique_ptr<UMockdevIoctlData, Unref>;
using Client = std::unique_ptr<UMockdevIoctlClient, Unref>;

inline std::string hex_of(std::string_view bytes) {
  std::string out;
  for (const char c : bytes) {
    constexpr std::string_view digits = "0123456789abcdef";
    out += digits[static_cast<unsigned char>(c) >> 4U];
    out += digits[static_cast<unsigned char>(c) & 15U];
  }
  return out;
}

struct MockedDevice {
  std::string serial = "EY-0001";
  std::string interface_class = {'\xFE', '\x03', '\x01'};
  std::string driver = {};  // of the system, that holds the interface
  bool used_by_others = false;
};

class MockedPort {
 public:
  explicit MockedPort(boost::asio::any_io_executor loop) : loop_(std::move(loop)) {
    testbed_.reset(umockdev_testbed_new());
    if (umockdev_in_mock_environment() == 0)
      throw std::logic_error("run this program with LD_PRELOAD=libumockdev-preload.so.0");
    handler_.reset(umockdev_ioctl_base_new());
    g_signal_connect(handler_.get(), "handle-ioctl", G_CALLBACK(&MockedPort::on_ioctl), this);
    if (umockdev_testbed_attach_ioctl(testbed_.get(), node, handler_.get(), nullptr) == 0)
      throw std::logic_error("umockdev does not attach");
    // The port's own hub.
    add("P: /devices/usb1\nN: bus/usb/001/001\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_device\nE: BUSNUM=001\n"
        "E: DEVNUM=001\nE: DEVNAME=/dev/bus/usb/001/001\nA: busnum=1\\n\nA: devnum=1\\n\nA: speed=480\\n\n"
        "A: bConfigurationValue=1\\n\nH: descriptors=" +
        hex_of(std::string("\x12\x01\x00\x02\x09\x00\x00\x40\x6b\x1d\x02\x00\x00\x01\x00\x00\x00\x01", 18)) +
        hex_of(std::string("\x09\x02\x09\x00\x00\x01\x00\xe0\x00", 9)) + "\n");
  }
  MockedPort(const MockedPort&) = delete;
  MockedPort& operator=(const MockedPort&) = delete;
  ~MockedPort() {
    unplug();
    wait_until_closed();
    umockdev_testbed_detach_ioctl(testbed_.get(), node, nullptr);
    testbed_.reset();
    handler_.reset();
  }

  // The far end of the cable; the interface has its endpoints.
  void plug_in(std::shared_ptr<transport::usbtmc::Pipe> instrument, const MockedDevice& what = {}) {
    {
      const std::scoped_lock lock(mutex_);
      device_ = what;
      instrument_ = std::move(instrument);
      is_plugged_in_ = true;
    }
    const auto& ends = instrument_->endpoints();
    std::string interface = {'\x09', '\x04', static_cast<char>(ends.interface), '\0',
                             static_cast<char>(ends.interrupt_in != 0 ? 3 : 2)};
    interface += what.interface_class + '\0';
    interface += endpoint(ends.bulk_out, '\2', 512) + endpoint(ends.bulk_in, '\2', ends.bulk_in_packet_bytes);
    if (ends.interrupt_in != 0) interface += endpoint(ends.interrupt_in, '\3', ends.interrupt_packet_bytes);
    std::string configuration("\x09\x02\x00\x00\x01\x01\x00\xc0\x32", 9);
    configuration[2] = static_cast<char>(configuration.size() + interface.size());
    const std::string device("\x12\x01\x00\x02\x00\x00\x00\x40\x34\x12\x78\x56\x00\x01\x01\x02\x03\x01", 18);
    add("P: /devices/usb1/1-1\nN: bus/usb/001/002\nE: SUBSYSTEM=usb\nE: DEVTYPE=usb_device\nE: BUSNUM=001\n"
        "E: DEVNUM=002\nE: DEVNAME=/dev/bus/usb/001/002\nA: busnum=1\\n\nA: devnum=2\\n\nA: speed=480\\n\n"
        "A: bConfigurationValue=1\\n\nA: manufacturer=Eyelevel\\n\nA: product=Mocked instrument\\n\n" +
        (what.serial.empty() ? "" : "A: serial=" + what.serial + "\\n\n") +
        "H: descriptors=" + hex_of(device + configuration + interface) + "\n");
  }

  void unplug() {
    {
      const std::scoped_lock lock(mutex_);
      if (!is_plugged_in_) return;
      is_plugged_in_ = false;
    }
    instrument_->close();  // what is under way ends
    umockdev_testbed_uevent(testbed_.get(), "/sys/devices/usb1/1-1", "remove");
    umockdev_testbed_remove_device(testbed_.get(), "/sys/devices/usb1/1-1");
  }

  // "claim", "release", "detach", "attach", "reset", "set configuration", in the order in which they were asked for.
  std::vector<std::string> calls() {
    const std::scoped_lock lock(mutex_);
    return calls_;
  }
  std::string root() const {
    const std::unique_ptr<gchar, decltype(&g_free)> path(umockdev_testbed_get_root_dir(testbed_.get()), &g_free);
    return path.get();
  }

  static constexpr const char* node = "/dev/bus/usb/001/002";

 private:
  // A request block of the system, from submission until it is reaped.
  struct Urb {
    // umockdev's
    IoctlData block;
    IoctlData buffer;
    // the loop's
    gulong address = 0;
    unsigned char type = 0;
    unsigned char endpoint = 0;
    std::string bytes;
    boost::asio::cancellation_signal cancel;
    // written by the one before it is done, read by the other after
    int status = 0;
    std::size_t moved = 0;
  };

  static std::string endpoint(std::uint8_t address, char type, std::size_t packet) {
    return {'\7',
            '\5',
            static_cast<char>(address),
            type,
            static_cast<char>(packet & 0xFFU),
            static_cast<char>(packet >> 8U),
            '\1'};
  }

  void add(const std::string& text) {
    if (umockdev_testbed_add_from_string(testbed_.get(), text.c_str(), nullptr) == 0)
      throw std::logic_error("umockdev does not take: " + text);
  }

  // A system call that is under way while umockdev detaches is never answered, and its thread waits for ever. A pipe
  // closes its node on its own thread, some time after it was let go; it needs the loop no more. umockdev has a signal
  // for this moment, but its version 0.17 never gives it: so it is asked each millisecond.
  void wait_until_closed() {
    std::unique_lock lock(mutex_);
    const auto is_closed = [](const Client& client) { return umockdev_ioctl_client_get_connected(client.get()) == 0; };
    while (!std::all_of(clients_.begin(), clients_.end(), is_closed)) {
      changed_.wait_for(lock, std::chrono::milliseconds(1));
    }
  }

  // --- on umockdev's thread ---

  static gboolean on_ioctl(UMockdevIoctlBase*, UMockdevIoctlClient* client, gpointer self) {
    auto* port = static_cast<MockedPort*>(self);
    port->remember(client);
    return port->ioctl(client) ? TRUE : FALSE;
  }

  // Not when the node is opened: the connection of an open that was refused stays for ever and asks nothing.
  void remember(UMockdevIoctlClient* client) {
    const std::scoped_lock lock(mutex_);
    for (const Client& one : clients_)
      if (one.get() == client) return;
    clients_.emplace_back(UMOCKDEV_IOCTL_CLIENT(g_object_ref(client)));
  }

  static bool answer(UMockdevIoctlClient* client, int error) {
    umockdev_ioctl_client_complete(client, error == 0 ? 0 : -1, error);
    return true;
  }

  bool is_gone() {
    const std::scoped_lock lock(mutex_);
    return !is_plugged_in_;
  }

  void note(std::string call) {
    const std::scoped_lock lock(mutex_);
    calls_.push_back(std::move(call));
  }

  bool ioctl(UMockdevIoctlClient* client) {
    UMockdevIoctlData* const argument = umockdev_ioctl_client_get_arg(client);
    const auto request = umockdev_ioctl_client_get_request(client);
    if (is_gone() && request != USBDEVFS_REAPURBNDELAY && request != USBDEVFS_DISCARDURB) return answer(client, ENODEV);
    switch (request) {
      case USBDEVFS_GET_CAPABILITIES: {
        const IoctlData data(umockdev_ioctl_data_resolve(argument, 0, sizeof(std::uint32_t), nullptr));
        const std::uint32_t able = USBDEVFS_CAP_BULK_CONTINUATION | USBDEVFS_CAP_NO_PACKET_SIZE_LIM |
                                   USBDEVFS_CAP_REAP_AFTER_DISCONNECT | USBDEVFS_CAP_ZERO_PACKET;
        std::memcpy(data->data, &able, sizeof able);
        return answer(client, 0);
      }
      case USBDEVFS_GETDRIVER: {
        if (device_.driver.empty()) return answer(client, ENODATA);
        const IoctlData data(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbdevfs_getdriver), nullptr));
        auto& driver = *reinterpret_cast<usbdevfs_getdriver*>(data->data);
        device_.driver.copy(driver.driver, sizeof driver.driver - 1);
        return answer(client, 0);
      }
      case USBDEVFS_IOCTL: {
        const IoctlData data(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbdevfs_ioctl), nullptr));
        const int code = reinterpret_cast<usbdevfs_ioctl*>(data->data)->ioctl_code;
        note(code == static_cast<int>(USBDEVFS_DISCONNECT) ? "detach" : "attach");
        return answer(client, 0);
      }
      case USBDEVFS_CLAIMINTERFACE: note("claim"); return answer(client, device_.used_by_others ? EBUSY : 0);
      case USBDEVFS_RELEASEINTERFACE: note("release"); return answer(client, 0);
      case USBDEVFS_SETCONFIGURATION: note("set configuration"); return answer(client, 0);
      case USBDEVFS_CLEAR_HALT: {
        const IoctlData data(umockdev_ioctl_data_resolve(argument, 0, sizeof(unsigned), nullptr));
        const auto endpoint = static_cast<std::uint8_t>(data->data[0]);
        on_loop([endpoint](transport::usbtmc::Pipe& pipe) { return pipe.clear_halt(endpoint); });
        return answer(client, 0);
      }
      case USBDEVFS_RESET:
        note("reset");
        on_loop([](transport::usbtmc::Pipe& pipe) { return pipe.reset(); });
        return answer(client, 0);
      case USBDEVFS_SUBMITURB: return answer(client, submit(argument));
      case USBDEVFS_DISCARDURB: return answer(client, discard(argument));
      case USBDEVFS_REAPURB:
      case USBDEVFS_REAPURBNDELAY: return answer(client, reap(argument));
      default: return false;
    }
  }

  // It is answered before it is done: the loop may be waiting for the answer. What is asked later is done later.
  void on_loop(std::function<task<transport::usbtmc::Moved>(transport::usbtmc::Pipe&)> call) {
    auto run = [](std::shared_ptr<transport::usbtmc::Pipe> pipe, decltype(call) what) -> task<> {
      co_await what(*pipe);
    };
    boost::asio::co_spawn(loop_, run(instrument_, std::move(call)), [](const std::exception_ptr& error) {
      if (error) std::rethrow_exception(error);
    });
  }

  int submit(UMockdevIoctlData* argument) {
    const auto urb = std::make_shared<Urb>();
    urb->block.reset(umockdev_ioctl_data_resolve(argument, 0, sizeof(usbdevfs_urb), nullptr));
    const auto& raw = *reinterpret_cast<const usbdevfs_urb*>(urb->block->data);
    const auto length = static_cast<std::size_t>(raw.buffer_length);
    urb->buffer.reset(umockdev_ioctl_data_resolve(urb->block.get(), offsetof(usbdevfs_urb, buffer), length, nullptr));
    urb->address = urb->block->client_addr;
    urb->type = raw.type;
    urb->endpoint = raw.endpoint;
    urb->bytes.assign(reinterpret_cast<const char*>(urb->buffer->data), length);
    const std::scoped_lock lock(mutex_);
    if (!is_plugged_in_) return ENODEV;
    flying_[urb->address] = urb;
    boost::asio::post(loop_, [this, urb] { begin(urb); });
    return 0;
  }

  int discard(UMockdevIoctlData* argument) {
    gulong address = 0;
    std::memcpy(&address, argument->data, sizeof address);
    const std::scoped_lock lock(mutex_);
    const auto at = flying_.find(address);
    if (at == flying_.end()) return EINVAL;
    done_.push_back(at->second);
    done_.back()->status = -ENOENT;
    boost::asio::post(loop_, [urb = at->second] { urb->cancel.emit(boost::asio::cancellation_type::terminal); });
    flying_.erase(at);
    changed_.notify_all();
    return 0;
  }

  // The node always looks ready to libusb, so the wait for something to reap is here.
  int reap(UMockdevIoctlData* argument) {
    std::unique_lock lock(mutex_);
    if (!changed_.wait_for(lock, std::chrono::milliseconds(1), [this] { return !done_.empty(); })) return EAGAIN;
    const auto urb = done_.front();
    done_.pop_front();
    const IoctlData block = std::move(urb->block);
    const IoctlData buffer = std::move(urb->buffer);
    auto& raw = *reinterpret_cast<usbdevfs_urb*>(block->data);
    raw.status = urb->status;
    raw.actual_length = static_cast<int>(urb->moved);
    // One that was discarded may still be moving its bytes, and nobody is to have them.
    if (urb->status == 0) urb->bytes.copy(reinterpret_cast<char*>(buffer->data), urb->bytes.size());
    const IoctlData place(umockdev_ioctl_data_resolve(argument, 0, sizeof(gpointer), nullptr));
    umockdev_ioctl_data_set_ptr(place.get(), 0, block.get());
    return 0;
  }

  // --- on the loop ---

  void begin(const std::shared_ptr<Urb>& urb) {
    using transport::usbtmc::Moved;
    boost::asio::co_spawn(
        loop_, move(instrument_, urb, device_.serial),
        boost::asio::bind_cancellation_slot(urb->cancel.slot(), [this, urb](const std::exception_ptr& e, Moved m) {
          if (!e) end(urb, m);  // else it was discarded
        }));
  }

  static task<transport::usbtmc::Moved> move(std::shared_ptr<transport::usbtmc::Pipe> pipe, std::shared_ptr<Urb> urb,
                                             std::string serial) {
    const std::span<char> bytes = urb->bytes;
    if (urb->type == USBDEVFS_URB_TYPE_CONTROL) co_return co_await control(*pipe, bytes, serial);
    if (urb->type == USBDEVFS_URB_TYPE_INTERRUPT) co_return co_await pipe->interrupt_in(bytes);
    if ((urb->endpoint & 0x80U) != 0) co_return co_await pipe->bulk_in(bytes);
    co_return co_await pipe->bulk_out({bytes.data(), bytes.size()});
  }

  static task<transport::usbtmc::Moved> control(transport::usbtmc::Pipe& pipe, std::span<char> bytes,
                                                const std::string& serial) {
    const auto u8 = [&](std::size_t at) { return static_cast<std::uint8_t>(bytes[at]); };
    const auto u16 = [&](std::size_t at) { return static_cast<std::uint16_t>(u8(at) | u8(at + 1) << 8); };
    const transport::usbtmc::Setup setup{u8(0), u8(1), u16(2), u16(4), u16(6)};
    if (setup.request_type == 0x80 && setup.request == 6 && setup.value >> 8U == 3) {  // GET_DESCRIPTOR, string
      std::string text = (setup.value & 0xFFU) == 0 ? "\x09\x04" : "";
      if ((setup.value & 0xFFU) != 0)
        for (const char c : (setup.value & 0xFFU) == 3 ? serial : "text") text += {c, '\0'};
      text.insert(0, {static_cast<char>(text.size() + 2), '\3'});
      const std::size_t count = std::min(text.size(), bytes.size() - 8);
      text.copy(bytes.data() + 8, count);
      co_return transport::usbtmc::Moved{.bytes = count, .trouble = {}, .what = {}};
    }
    co_return co_await pipe.control(setup, bytes.subspan(8));
  }

  void end(const std::shared_ptr<Urb>& urb, const transport::usbtmc::Moved& moved) {
    using transport::usbtmc::Trouble;
    const std::scoped_lock lock(mutex_);
    const auto at = flying_.find(urb->address);
    if (at == flying_.end() || at->second != urb) return;  // discarded meanwhile
    urb->moved = moved.bytes;
    switch (moved.trouble) {
      case Trouble::none: urb->status = 0; break;
      case Trouble::stall: urb->status = -EPIPE; break;
      case Trouble::gone: urb->status = -ESHUTDOWN; break;
      case Trouble::overflow: urb->status = -EOVERFLOW; break;
      case Trouble::other: urb->status = -EPROTO; break;
    }
    flying_.erase(at);
    done_.push_back(urb);
    changed_.notify_all();
  }

  boost::asio::any_io_executor loop_;
  std::unique_ptr<UMockdevTestbed, Unref> testbed_;
  std::unique_ptr<UMockdevIoctlBase, Unref> handler_;
  std::shared_ptr<transport::usbtmc::Pipe> instrument_;
  std::mutex mutex_;
  std::condition_variable changed_;
  MockedDevice device_;
  bool is_plugged_in_ = false;
  std::vector<Client> clients_;  // each an opened node
  std::vector<std::string> calls_;
  std::map<gulong, std::shared_ptr<Urb>> flying_;
  std::deque<std::shared_ptr<Urb>> done_;
};

}  // namespace eyelevel::test
