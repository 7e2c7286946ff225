// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/serial/server.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <termios.h>
#include <unistd.h>

#include <boost/asio/posix/stream_descriptor.hpp>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <system_error>
#include <utility>

#include "instruments/transport/detail/cancellation.hpp"
#include "instruments/transport/detail/line_conversation.hpp"
#include "instruments/transport/error.hpp"
#include "instruments/transport/resource_name.hpp"

namespace eyelevel::transport::serial {
namespace asio = boost::asio;
namespace {

using Terminal = asio::posix::stream_descriptor;
using Conversation = detail::LineConversation<Terminal>;
constexpr std::size_t most_message_bytes = std::size_t{16} << 20U;

[[noreturn]] void cannot(const std::filesystem::path& place, std::string_view what) {
  fail(base::ErrorCode::no_connection, place.string(),
       fmt::format("cannot {}: {}", what, std::system_category().message(errno)), "choose another place");
}

// Both ends of a line.
struct Pair {
  int master = -1;
  int slave = -1;  // kept open, so that a client that goes away does not hang up the line
  std::string name;
};

Pair open_pair(const std::filesystem::path& place) {
  Pair pair;
  pair.master = ::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
  if (pair.master < 0) cannot(place, "open a pseudo-terminal");
  std::array<char, 128> name{};
  const bool ready = ::grantpt(pair.master) == 0 && ::unlockpt(pair.master) == 0 &&
                     ::ptsname_r(pair.master, name.data(), name.size()) == 0;
  if (ready) pair.slave = ::open(name.data(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  termios raw{};
  if (!ready || pair.slave < 0 || ::tcgetattr(pair.slave, &raw) != 0) {
    ::close(pair.master);
    if (pair.slave >= 0) ::close(pair.slave);
    cannot(place, "prepare a pseudo-terminal");
  }
  ::cfmakeraw(&raw);  // no echo, every byte as it is
  ::tcsetattr(pair.slave, TCSANOW, &raw);
  pair.name = name.data();
  return pair;
}

}  // namespace

struct SerialServer::State : std::enable_shared_from_this<SerialServer::State> {
  State(asio::any_io_executor runs_on, std::shared_ptr<Device> served, std::filesystem::path at)
      : executor(std::move(runs_on)), device(std::move(served)), place(std::move(at)) {}

  ~State() {
    if (slave >= 0) ::close(slave);
  }

  asio::any_io_executor executor;
  std::shared_ptr<Device> device;
  std::filesystem::path place;
  int slave = -1;
  bool stopped = false;
  asio::cancellation_signal stop;

  // Plugs the line in; after the instrument has closed it, a new one takes its place.
  void plug_in() {
    const Pair pair = open_pair(place);
    slave = pair.slave;
    std::error_code failed;
    std::filesystem::create_symlink(pair.name, place, failed);
    if (failed) {
      ::close(pair.master);
      fail(base::ErrorCode::no_connection, place.string(), "cannot serve here: " + failed.message(),
           "choose a place that does not exist yet");
    }
    auto conversation = std::make_shared<Conversation>(Terminal(executor, pair.master), device, most_message_bytes);
    asio::co_spawn(executor, Conversation::run(std::move(conversation)),
                   asio::bind_cancellation_slot(stop.slot(), [self = shared_from_this()](const std::exception_ptr& e) {
                     self->pull_out();
                     if (e && !detail::is_cancellation(e)) std::rethrow_exception(e);
                     if (!self->stopped) self->plug_in();
                   }));
  }

  void pull_out() noexcept {
    std::error_code gone;
    std::filesystem::remove(place, gone);
    if (slave >= 0) ::close(std::exchange(slave, -1));
  }
};

SerialServer::SerialServer(const asio::any_io_executor& executor, std::shared_ptr<Device> device,
                           std::filesystem::path place)
    : state_(std::make_shared<State>(executor, std::move(device), std::move(place))) {
  state_->plug_in();
}

SerialServer::~SerialServer() { stop(); }

std::string SerialServer::resource_name() const {
  ResourceName name;
  name.carrier = Carrier::serial;
  name.host = state_->place.string();
  return name.canonical();
}

void SerialServer::stop() noexcept {
  state_->stopped = true;
  state_->stop.emit(asio::cancellation_type::terminal);
}

}  // namespace eyelevel::transport::serial
