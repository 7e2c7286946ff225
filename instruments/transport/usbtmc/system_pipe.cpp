// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/system_pipe.hpp"

#include <fcntl.h>
#include <linux/usb/tmc.h>
#include <poll.h>
#include <sys/eventfd.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <condition_variable>
#include <cstring>
#include <functional>
#include <list>
#include <mutex>
#include <system_error>
#include <utility>

#include "instruments/transport/detail/other_thread.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/usbtmc/system_nodes.hpp"

namespace eyelevel::transport::usbtmc {
namespace {

constexpr std::size_t piece_bytes = 4096;         // USBTMC_BUFSIZE of the driver
constexpr std::uint32_t version_with_pieces = 2;  // of the driver's interface: generic reads and writes
constexpr int slice_ms = 10;
constexpr int write_slice_ms = 1;  // the driver does not tell POLLOUT while a read is pending
constexpr std::uint32_t service_slice_ms = 100;

// Called off by the coroutine that waits, or by close().
class Stop {
 public:
  Stop() : event_(::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {
    if (event_ < 0) throw std::system_error(errno, std::generic_category(), "eventfd");
  }
  Stop(const Stop&) = delete;
  Stop& operator=(const Stop&) = delete;
  ~Stop() { ::close(event_); }

  void call_off() noexcept {
    called_off_ = true;
    ::eventfd_write(event_, 1);
  }
  bool called_off() const { return called_off_; }
  int event() const { return event_; }

 private:
  int event_;
  std::atomic<bool> called_off_ = false;
};

// The open device. Jobs on the threads own it, so that it is closed behind the last of them.
struct Node {
  explicit Node(int opened) : file(opened), piece(piece_bytes, '\0') {}
  Node(const Node&) = delete;
  Node& operator=(const Node&) = delete;
  ~Node() { ::close(file); }

  int file;
  std::mutex bulk;  // one bulk transfer at a time; guards what is below but `writers`
  std::condition_variable written;
  std::atomic<int> writers = 0;  // that wait for the reader to pause
  std::string piece;             // the last that was read
  std::size_t begin = 0, end = 0;
  bool ended_short = false;  // the transfer ends with this piece

  // Whatever is under way on the bulk endpoints ends.
  void drop_transfers() const { ::ioctl(file, USBTMC_IOCTL_CLEANUP_IO); }

  void wait_for(short events, const Stop& stop, int most_ms) const {
    std::array<pollfd, 2> both{{{file, events, 0}, {stop.event(), POLLIN, 0}}};
    ::poll(both.data(), both.size(), most_ms);
    // POLLERR may be the other direction's, and stays until that is asked.
    if ((both[0].revents & (events | POLLERR)) == POLLERR) ::poll(&both[1], 1, most_ms);
  }
};

struct Got {
  Moved moved;
  std::string bytes;
};

Moved gone() { return {.bytes = 0, .trouble = Trouble::gone, .what = "the connection is closed"}; }

Moved failed(int code) {
  Trouble trouble = Trouble::other;
  if (code == EPIPE) trouble = Trouble::stall;
  if (code == ENODEV || code == ESHUTDOWN || code == ECONNRESET) trouble = Trouble::gone;
  if (code == EOVERFLOW) trouble = Trouble::overflow;
  return {.bytes = 0, .trouble = trouble, .what = std::generic_category().message(code)};
}

usbtmc_message message_of(char* bytes, std::size_t count, std::uint32_t flags) {
  usbtmc_message message{};
  message.transfer_size = static_cast<std::uint32_t>(count);
  message.flags = USBTMC_FLAG_ASYNC | flags;
  message.message = bytes;
  return message;
}

// --- on a thread ---

// The next piece into the node; it holds the lock but while a writer has its turn. The read stays pending in the driver
// then, for whatever comes there is handed out by the next call. Only who is called off drops it, and only while nobody
// else can have begun to read.
Moved read_piece(Node& node, std::unique_lock<std::mutex>& lock, const Stop& stop) {
  for (;;) {
    node.written.wait_for(lock, std::chrono::milliseconds(slice_ms), [&] { return node.writers == 0; });
    if (stop.called_off()) return gone();
    if (node.writers > 0) continue;
    auto message = message_of(node.piece.data(), piece_bytes, 0);
    if (::ioctl(node.file, USBTMC_IOCTL_READ, &message) >= 0) {
      node.begin = 0;
      node.end = std::min<std::size_t>(message.transferred, piece_bytes);
      node.ended_short = node.end < piece_bytes;
      return {};
    }
    if (const int code = errno; code != EAGAIN) return failed(code);
    node.wait_for(POLLIN, stop, slice_ms);
    if (stop.called_off()) node.drop_transfers();
  }
}

// A piece may hold more packets than are wanted: the rest stays for the next read, with the end of the transfer.
Got bulk_in(Node& node, const Stop& stop, std::size_t most) {
  std::unique_lock lock(node.bulk);
  Got got;
  while (got.bytes.size() < most) {
    // What is in the piece is the next read's.
    if (stop.called_off()) return {gone(), {}};
    if (node.begin == node.end && !node.ended_short) {
      got.moved = read_piece(node, lock, stop);
      if (got.moved.trouble != Trouble::none) break;
    }
    const auto part =
        std::string_view(node.piece).substr(node.begin, std::min(node.end - node.begin, most - got.bytes.size()));
    got.bytes += part;
    node.begin += part.size();
    if (node.begin == node.end && node.ended_short) {
      // The packet that is full to the last byte is not the short one.
      if (got.bytes.size() == most && !part.empty()) break;
      node.ended_short = false;
      break;
    }
  }
  got.moved.bytes = got.bytes.size();
  return got;
}

// A reader pauses for whoever has it.
class Turn {
 public:
  explicit Turn(Node& node) : node_(node) {
    ++node_.writers;
    lock_ = std::unique_lock(node_.bulk);
    --node_.writers;
  }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;
  ~Turn() {
    lock_.unlock();
    node_.written.notify_all();
  }

  // What was read ahead, here and in the driver, belongs to a transfer that is no more.
  void forget_reads() const {
    node_.drop_transfers();
    node_.begin = node_.end = 0;
    node_.ended_short = false;
  }

 private:
  Node& node_;
  std::unique_lock<std::mutex> lock_;
};

Moved bulk_out(Node& node, const Stop& stop, std::string& bytes) {
  const Turn turn(node);
  for (std::size_t sent = 0; sent < bytes.size();) {
    if (stop.called_off()) {
      node.drop_transfers();
      return gone();
    }
    auto message = message_of(bytes.data() + sent, bytes.size() - sent, sent > 0 ? USBTMC_FLAG_APPEND : 0);
    const int code = ::ioctl(node.file, USBTMC_IOCTL_WRITE, &message) < 0 ? errno : 0;
    if (code == EAGAIN) {
      node.wait_for(POLLOUT, stop, write_slice_ms);
    } else if (code != 0) {
      node.drop_transfers();
      return failed(code);
    } else {
      sent += message.transferred;
    }
  }
  for (;;) {
    std::uint32_t taken = 0;
    const int code = ::ioctl(node.file, USBTMC_IOCTL_WRITE_RESULT, &taken) < 0 ? errno : 0;
    if (code == 0 && taken >= bytes.size()) return {.bytes = bytes.size(), .trouble = {}, .what = {}};
    if (code == 0 && !stop.called_off()) {
      node.wait_for(POLLOUT, stop, write_slice_ms);
      continue;
    }
    node.drop_transfers();
    auto moved = code == 0 ? gone() : failed(code);
    moved.bytes = taken;
    return moved;
  }
}

// The driver keeps the Interrupt-IN endpoint to itself and says what came there.
Got service_request(Node& node, const Stop& stop) {
  while (!stop.called_off()) {
    std::uint32_t wait_ms = service_slice_ms;
    if (::ioctl(node.file, USBTMC488_IOCTL_WAIT_SRQ, &wait_ms) < 0) {
      if (errno == ETIMEDOUT || errno == EINTR) continue;
      return {failed(errno), {}};
    }
    std::uint8_t status = 0;
    if (::ioctl(node.file, USBTMC_IOCTL_GET_SRQ_STB, &status) < 0) {
      if (errno == ENOMSG) continue;
      return {failed(errno), {}};
    }
    auto packet = service_request_packet(status);
    return {{.bytes = packet.size(), .trouble = {}, .what = {}}, packet};
  }
  return {gone(), {}};
}

Got control(Node& node, const Setup& setup) {
  if (setup == setup_of(Request::read_status_byte, setup.value, setup.index)) {
    std::uint8_t status = 0;
    if (::ioctl(node.file, USBTMC_IOCTL_GET_STB, &status) < 0) return {failed(errno), {}};
    auto bytes =
        answer_bytes(Request::read_status_byte,
                     {.status = Status::success, .tag = static_cast<std::uint8_t>(setup.value), .status_byte = status});
    return {{.bytes = bytes.size(), .trouble = {}, .what = {}}, bytes};
  }
  std::string bytes(setup.length, '\0');
  usbtmc_ctrlrequest request{};
  request.req = {setup.request_type, setup.request, setup.value, setup.index, setup.length};
  request.data = bytes.data();
  const int count = ::ioctl(node.file, USBTMC_IOCTL_CTRL_REQUEST, &request);
  if (count < 0) return {failed(errno), {}};
  if (setup == setup_of(Request::initiate_clear, setup.value, setup.index)) Turn(node).forget_reads();
  bytes.resize(std::min(bytes.size(), static_cast<std::size_t>(count)));
  return {{.bytes = bytes.size(), .trouble = {}, .what = {}}, bytes};
}

// --- the loop's ---

class SystemPipe final : public Pipe {
 public:
  SystemPipe(std::shared_ptr<boost::asio::thread_pool> threads, std::shared_ptr<Node> node, const Endpoints& endpoints)
      : threads_(std::move(threads)), node_(std::move(node)), endpoints_(endpoints) {}
  ~SystemPipe() override { SystemPipe::close(); }

  const Endpoints& endpoints() const override { return endpoints_; }

  task<Moved> bulk_out(std::string_view transfer) override {
    const auto got = co_await run([bytes = std::string(transfer)](Node& node, const Stop& stop) mutable {
      return Got{usbtmc::bulk_out(node, stop, bytes), {}};
    });
    co_return got.moved;
  }

  task<Moved> bulk_in(std::span<char> into) override {
    return read(into, [most = into.size()](Node& node, const Stop& stop) { return usbtmc::bulk_in(node, stop, most); });
  }

  task<Moved> interrupt_in(std::span<char> into) override { return read(into, service_request); }

  task<Moved> control(const Setup& setup, std::span<char> into) override {
    return read(into, [setup](Node& node, const Stop&) { return usbtmc::control(node, setup); });
  }

  task<Moved> clear_halt(std::uint8_t endpoint) override {
    const bool in = endpoint == endpoints_.bulk_in;
    const auto got = co_await run([in](Node& node, const Stop&) {
      if (in) Turn(node).forget_reads();
      const int told = ::ioctl(node.file, in ? USBTMC_IOCTL_CLEAR_IN_HALT : USBTMC_IOCTL_CLEAR_OUT_HALT);
      return told < 0 ? Got{failed(errno), {}} : Got{};
    });
    co_return got.moved;
  }

  task<Moved> reset() override {
    co_return Moved{.bytes = 0, .trouble = Trouble::other, .what = "the system's driver has no port reset"};
  }

  void close() noexcept override {
    for (Stop* stop : under_way_) stop->call_off();
    if (node_) boost::asio::post(*threads_, [node = std::exchange(node_, nullptr)] {});  // closing may wait
  }

 private:
  using Job = std::function<Got(Node&, const Stop&)>;

  task<Moved> read(std::span<char> into, Job job) {
    const auto got = co_await run(std::move(job));
    got.bytes.copy(into.data(), into.size());
    co_return got.moved;
  }

  task<Got> run(Job job) {
    if (!node_) co_return Got{gone(), {}};
    struct UnderWay {
      SystemPipe& pipe;
      std::shared_ptr<Stop> stop = std::make_shared<Stop>();
      std::list<Stop*>::iterator place = pipe.under_way_.insert(pipe.under_way_.end(), stop.get());
      ~UnderWay() {
        pipe.under_way_.erase(place);
        stop->call_off();
      }
    };
    const UnderWay under_way{*this};
    co_return co_await detail::on_worker<Got>(*threads_, [node = node_, stop = under_way.stop, job = std::move(job)] {
      return stop->called_off() ? Got{gone(), {}} : job(*node, *stop);
    });
  }

  std::shared_ptr<boost::asio::thread_pool> threads_;
  std::shared_ptr<Node> node_;
  Endpoints endpoints_;
  std::list<Stop*> under_way_;
};

// --- opening ---

[[noreturn]] void refuse(const ResourceName& name, std::string why, std::string advice) {
  fail(base::ErrorCode::no_connection, name.canonical(), std::move(why), std::move(advice));
}

struct Opened {
  std::shared_ptr<Node> node;
  Endpoints endpoints;
};

Opened open_now(const ResourceName& name) {
  const int file = ::open(name.host.c_str(), O_RDWR | O_CLOEXEC);
  if (file < 0) {
    const int code = errno;
    if (code == ENOENT || code == ENODEV || code == ENXIO)
      refuse(name, name.host + " is not there", "look at the USB cable and the instrument's power; ls /dev/usbtmc*");
    if (code == EACCES || code == EPERM)
      refuse(name, "no permission to use " + name.host,
             "as root, write this line into /etc/udev/rules.d/60-eyelevel-usbtmc.rules, run \"udevadm control "
             "--reload\", and plug the instrument in again: SUBSYSTEM==\"usbmisc\", KERNEL==\"usbtmc*\", "
             "MODE=\"0660\", GROUP=\"plugdev\", TAG+=\"uaccess\"");
    refuse(name, "the system cannot open it: " + std::generic_category().message(code),
           "unplug it and plug it in again");
  }
  const auto node = std::make_shared<Node>(file);
  std::uint32_t version = 0;
  if (::ioctl(file, USBTMC_IOCTL_API_VERSION, &version) < 0 || version < version_with_pieces)
    refuse(name, "it is no node of the system's driver for USBTMC, or that driver is too old",
           "give the instrument by its numbers, USB::vendor::product::serial::INSTR; eyelevel find lists it");
  const auto ends = endpoints_of_node(name.host);
  if (ends.bulk_in == 0 || ends.bulk_out == 0 || ends.bulk_in_packet_bytes == 0)
    refuse(name, "its Bulk-IN and Bulk-OUT endpoints are not told by /sys/class/usbmisc",
           "give the node as the system named it, /dev/usbtmc0; is /sys there, or is this a container without it?");
  return {node, ends};
}

}  // namespace

task<std::shared_ptr<Pipe>> open_system_node(std::shared_ptr<boost::asio::thread_pool> threads, ResourceName name) {
  auto opened = co_await detail::on_worker<Opened>(*threads, [name] { return open_now(name); });
  co_return std::make_shared<SystemPipe>(std::move(threads), std::move(opened.node), opened.endpoints);
}

}  // namespace eyelevel::transport::usbtmc
