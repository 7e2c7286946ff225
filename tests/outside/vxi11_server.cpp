// SPDX-License-Identifier: Apache-2.0
// Serves two small instruments by VXI-11 on the ports that clients look at, for clients that nobody here wrote:
// vxi11_server ADDRESS PORTMAPPER_PORT. Prints "serving" when the ports are open, or why they cannot be had (status 3),
// and ends when its standard input ends.
#include <boost/asio/io_context.hpp>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <boost/asio/redirect_error.hpp>
#include <boost/asio/use_awaitable.hpp>

#include <array>
#include <iostream>
#include <memory>
#include <string>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/transport/vxi11/server.hpp"

namespace {

using namespace eyelevel;

// *IDN? is its name; BLOC? n a block of n bytes that count; SIZE? the bytes of the message before; SLOW? n answers
// after n milliseconds; GOT? what happened beside messages.
class SmallInstrument final : public transport::Device {
 public:
  SmallInstrument(base::Timeline& timeline, std::string name) : timeline_(timeline), name_(std::move(name)) {}

  task<> execute(std::string_view message, transport::Reply& reply) override {
    const auto number = [&] { return std::stoi(std::string(message.substr(6))); };
    if (message == "*IDN?") {
      reply.bytes = "Eyelevel," + name_ + ",0,1.0";
    } else if (message == "GOT?") {
      reply.bytes = happened_;
    } else if (message == "SIZE?") {
      reply.bytes = std::to_string(before_);
    } else if (message.starts_with("BLOC? ")) {
      std::string data(static_cast<std::size_t>(number()), '\0');
      for (std::size_t i = 0; i < data.size(); ++i) data[i] = static_cast<char>(i % 251);
      scpi::append_block(reply.bytes, data);
    } else if (message.starts_with("SLOW? ")) {
      reply.bytes = message;
      co_await timeline_.sleep(std::chrono::milliseconds(number()));
    }
    before_ = message.size();
  }
  void clear() override { happened_ += "clear "; }
  task<> trigger() override {
    happened_ += "trigger ";
    co_return;
  }
  void remote_local(transport::RemoteLocal what) override {
    happened_ += what == transport::RemoteLocal::local ? "local " : "remote ";
  }

 private:
  base::Timeline& timeline_;
  std::string name_, happened_;
  std::size_t before_ = 0;
};

task<> until_input_ends(boost::asio::io_context& loop) {
  boost::asio::posix::stream_descriptor input(loop, 0);
  std::array<char, 64> bytes{};
  boost::system::error_code ended;
  while (!ended)
    co_await input.async_read_some(boost::asio::buffer(bytes),
                                   boost::asio::redirect_error(boost::asio::use_awaitable, ended));
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 3) return 2;
  boost::asio::io_context loop;
  const auto timeline = base::wall_timeline(loop);
  transport::vxi11::Listen listen;
  listen.address = arguments[1];
  listen.portmapper_port = static_cast<std::uint16_t>(std::stoi(arguments[2]));
  try {
    const transport::vxi11::Vxi11Server server(loop.get_executor(), *timeline,
                                               {{"inst0", std::make_shared<SmallInstrument>(*timeline, "first")},
                                                {"inst1", std::make_shared<SmallInstrument>(*timeline, "second")}},
                                               listen);
    std::cout << "serving" << std::endl;
    timeline->run(until_input_ends(loop));
  } catch (const base::Error& error) {
    std::cout << error.what() << std::endl;
    return 3;
  }
  return 0;
}
