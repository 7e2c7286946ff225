// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/serial/client.hpp"

#include <fmt/format.h>
#include <termios.h>

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/serial_port.hpp>
#include <boost/asio/this_coro.hpp>

#include <algorithm>
#include <array>
#include <charconv>
#include <utility>

#include "instruments/transport/detail/line_stream.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::serial {
namespace asio = boost::asio;
namespace {

constexpr std::string_view line_form = "baud, data bits with parity and stop bits, flow control: 9600 8N1 none";

asio::serial_port::parity option_of(Parity parity) {
  using Option = asio::serial_port::parity;
  return Option(parity == Parity::odd ? Option::odd : parity == Parity::even ? Option::even : Option::none);
}

asio::serial_port::flow_control option_of(FlowControl flow) {
  using Option = asio::serial_port::flow_control;
  return Option(flow == FlowControl::software   ? Option::software
                : flow == FlowControl::hardware ? Option::hardware
                                                : Option::none);
}

// Whether it can be what *STB? answers.
bool is_status_byte(std::string_view text) {
  int value = -1;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  return error == std::errc() && end == text.data() + text.size() && value >= 0 && value <= 255;
}

// Whether it can end with what *IDN? answers: four fields (IEEE 488.2, 10.14.3), or bytes of an older answer before
// them.
bool ends_with_identity(std::string_view text) { return std::count(text.begin(), text.end(), ',') >= 3; }

class SerialLink final : public Link {
 public:
  SerialLink(const asio::any_io_executor& executor, ResourceName name, Line line)
      : name_(std::move(name)),
        text_(name_.canonical()),
        path_(name_.path()),
        settings_(line),
        line_(asio::serial_port(executor), text_) {}

  const std::string& resource_name() const override { return text_; }

  void open() {
    boost::system::error_code error;
    auto& port = line_.stream;
    port.open(path_, error);
    if (error) refused(error);
    const auto set = [&](const auto& option) {
      if (!error) port.set_option(option, error);
    };
    set(asio::serial_port::baud_rate(settings_.baud));
    set(asio::serial_port::character_size(settings_.data_bits));
    set(asio::serial_port::stop_bits(settings_.stop_bits == 2 ? asio::serial_port::stop_bits::two
                                                              : asio::serial_port::stop_bits::one));
    set(option_of(settings_.parity));
    set(option_of(settings_.flow));
    if (error) {
      close();
      fail(base::ErrorCode::no_connection, text_,
           fmt::format("{} does not take {} baud {}{}{}: {}", path_, settings_.baud, settings_.data_bits,
                       settings_.parity == Parity::none  ? 'N'
                       : settings_.parity == Parity::odd ? 'O'
                                                         : 'E',
                       settings_.stop_bits, error.message()),
           "set the line as the instrument's handbook says");
    }
    ::tcflush(port.native_handle(), TCIOFLUSH);  // what came before answers nothing that will be asked
  }

  task<> write(std::string_view message) override {
    // A pulled port stays pulled until it is cleared; Asio's own words for it are of no use to anybody.
    if (!line_.stream.is_open())
      fail(base::ErrorCode::connection_lost, text_, "the port is closed", "is its cable still plugged in?");
    co_await line_.write(message);
  }

  task<> read(Buffer& into, std::size_t most) override {
    co_await line_.read(into, most, [this](std::string_view so_far) { tell_progress(so_far); });
  }

  task<> clear() override {
    if (!line_.stream.is_open() || lost()) {
      close();
      open();
    }
    line_.forget();
    ::tcflush(line_.stream.native_handle(), TCIFLUSH);
    co_await line_.write("*IDN?");
    co_await line_.write("*STB?");
    Buffer before, answer;
    while (!(is_status_byte(answer) && ends_with_identity(before))) {
      std::swap(before, answer);
      co_await read_any(answer);
    }
  }

  void close() noexcept override {
    boost::system::error_code closed;  // nothing can be done about a failing close
    line_.stream.close(closed);
  }

 private:
  // An answer, whatever it is: what is left of an older one may be no message at all.
  task<> read_any(Buffer& answer) {
    try {
      co_await line_.read(answer, most_response_bytes, [](std::string_view) {});
    } catch (const TransportError& error) {
      if (error.record().code != base::ErrorCode::bad_answer) throw;
      answer.clear();
    }
  }

  bool lost() {
    termios settings{};
    return ::tcgetattr(line_.stream.native_handle(), &settings) != 0;
  }

  [[noreturn]] void refused(const boost::system::error_code& error) const {
    std::string advice = "is the cable plugged in? the ports of this computer are listed in /dev/serial/by-id";
    if (error == boost::system::errc::permission_denied)
      advice =
          "put the user into the group that owns the port (usually: sudo usermod -aG dialout $USER, then log in anew)";
    if (error == boost::system::errc::device_or_resource_busy) advice = "close the program that uses the port";
    if (error == boost::system::errc::inappropriate_io_control_operation) advice = "give the name of a serial port";
    fail(base::ErrorCode::no_connection, text_, fmt::format("cannot open {}: {}", path_, error.message()), advice);
  }

  ResourceName name_;
  std::string text_;
  std::string path_;
  Line settings_;
  detail::LineStream<asio::serial_port> line_;
};

[[noreturn]] void refuse_line(std::string_view text, std::string_view why) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::bad_input;
  record.message = fmt::format("serial line \"{}\": {}", base::escaped(text, 60), why);
  record.expected = std::string(line_form);
  record.advice = "take the numbers from the instrument's own menu or handbook";
  throw base::Error(std::move(record));
}

}  // namespace

Line parse_line(std::string_view text) {
  Line line;
  std::vector<std::string_view> words;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t begin = text.find_first_not_of(' ', at);
    if (begin == std::string_view::npos) break;
    const std::size_t end = std::min(text.find(' ', begin), text.size());
    words.push_back(text.substr(begin, end - begin));
    at = end;
  }
  if (words.empty() || words.size() > 3) refuse_line(text, "is not one to three words");
  const auto [end, error] = std::from_chars(words[0].data(), words[0].data() + words[0].size(), line.baud);
  if (error != std::errc() || end != words[0].data() + words[0].size() || line.baud < 50 || line.baud > 4000000)
    refuse_line(text, "the baud rate is no number from 50 to 4000000");
  if (words.size() > 1) {
    const auto frame = words[1];
    const auto parity = frame.size() == 3 ? std::string_view("NOE").find(frame[1]) : std::string_view::npos;
    if (parity == std::string_view::npos || frame[0] < '5' || frame[0] > '8' || (frame[2] != '1' && frame[2] != '2'))
      refuse_line(text, fmt::format("\"{}\" is not data bits 5 to 8, parity N, O or E, stop bits 1 or 2",
                                    base::escaped(frame)));
    line.data_bits = static_cast<unsigned>(frame[0] - '0');
    line.parity = static_cast<Parity>(parity);
    line.stop_bits = static_cast<unsigned>(frame[2] - '0');
  }
  if (words.size() > 2) {
    constexpr std::array<std::string_view, 3> names = {"none", "software", "hardware"};
    const auto flow = std::find(names.begin(), names.end(), words[2]);
    if (flow == names.end())
      refuse_line(text, fmt::format("\"{}\" is not none, software or hardware", base::escaped(words[2])));
    line.flow = static_cast<FlowControl>(flow - names.begin());
  }
  return line;
}

task<std::unique_ptr<Link>> connect(ResourceName name, Line line) {
  const auto executor = co_await asio::this_coro::executor;
  auto link = std::make_unique<SerialLink>(executor, std::move(name), line);
  link->open();
  co_return link;
}

}  // namespace eyelevel::transport::serial
