// SPDX-License-Identifier: Apache-2.0
// Query round trip and block download over loopback, our client and server against plain sockets that make and move the
// same bytes, in one run, and our client against PyVISA-py on our server. The plain server is a thread with blocking
// calls, as a C program would have it; ours too has a thread. Every server makes each block anew, every client reads it
// into the buffer that held the one before, as much at a time as the system gives. All on one processor, but for one
// query of a socket and one of HiSLIP with client and instrument on two: where a pair runs is never left to chance,
// since waking another processor costs tens of microseconds.
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sched.h>
#include <sys/socket.h>
#include <unistd.h>

#include <fmt/format.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>

#include <cstdio>
#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string>
#include <thread>
#include <type_traits>
#include <vector>

#include "core/base/timeline.hpp"
#include "instruments/scpi/block.hpp"
#include "instruments/transport/hislip/client.hpp"
#include "instruments/transport/hislip/codec.hpp"
#include "instruments/transport/hislip/exchange.hpp"
#include "instruments/transport/hislip/server.hpp"
#include "instruments/transport/session.hpp"
#include "instruments/transport/socket/client.hpp"
#include "instruments/transport/socket/server.hpp"
#include "instruments/transport/vxi11/client.hpp"
#include "instruments/transport/vxi11/server.hpp"
#include "tests/speed/speed.hpp"

namespace eyelevel::speed {
namespace {

constexpr int queries = 2000;
constexpr std::size_t block_bytes = std::size_t{4} << 20U;
constexpr int blocks = 8;
constexpr std::string_view short_answer = "1.234567E+00\n";

// Its samples are made anew for each question, as those of an instrument are.
void make_block(std::string& bytes) {
  bytes.clear();
  scpi::append_block_header(bytes, block_bytes);
  bytes.resize(bytes.size() + block_bytes, '\x7f');
}

// Those that this thread may use.
std::vector<int> processors() {
  cpu_set_t allowed;
  require(::sched_getaffinity(0, sizeof allowed, &allowed) == 0, "allowed processors");
  std::vector<int> all;
  for (int cpu = 0; cpu < CPU_SETSIZE; ++cpu)
    if (CPU_ISSET(cpu, &allowed)) all.push_back(cpu);
  return all;
}

// This thread and those that it starts stay on one processor.
class OnProcessor {
 public:
  explicit OnProcessor(int cpu) {
    require(::sched_getaffinity(0, sizeof before_, &before_) == 0, "allowed processors");
    cpu_set_t one;
    CPU_ZERO(&one);
    CPU_SET(cpu, &one);
    require(::sched_setaffinity(0, sizeof one, &one) == 0, "staying on one processor");
  }
  OnProcessor(const OnProcessor&) = delete;
  OnProcessor& operator=(const OnProcessor&) = delete;
  ~OnProcessor() { ::sched_setaffinity(0, sizeof before_, &before_); }

 private:
  cpu_set_t before_{};
};

class Plain {
 public:
  explicit Plain(int file) : file_(file) {
    const int on = 1;
    ::setsockopt(file_, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  }
  Plain(const Plain&) = delete;
  Plain& operator=(const Plain&) = delete;
  ~Plain() { ::close(file_); }

  void send(std::string_view bytes) const {
    while (!bytes.empty()) {
      const auto count = ::send(file_, bytes.data(), bytes.size(), MSG_NOSIGNAL);
      require(count > 0, "plain send");
      bytes.remove_prefix(static_cast<std::size_t>(count));
    }
  }
  // Fills the buffer; false at the end of the stream.
  bool receive(char* into, std::size_t count) const {
    while (count > 0) {
      const auto got = ::recv(file_, into, count, 0);
      if (got <= 0) return false;
      into += got;
      count -= static_cast<std::size_t>(got);
    }
    return true;
  }

 private:
  int file_;
};

int stream_socket() {
  const int file = ::socket(AF_INET, SOCK_STREAM, 0);
  if (file < 0) throw std::runtime_error("no plain socket");
  return file;
}

std::size_t whole_block_bytes() {
  std::string block;
  make_block(block);
  return block.size() + 1;
}

// Serves one client: 'q' is answered by the short answer, 'b' by the block.
class PlainServer {
 public:
  PlainServer() : listener_(stream_socket()) {
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    socklen_t length = sizeof address;
    require(::bind(listener_, reinterpret_cast<sockaddr*>(&address), length) == 0, "plain bind");
    require(::listen(listener_, 1) == 0, "plain listen");
    ::getsockname(listener_, reinterpret_cast<sockaddr*>(&address), &length);
    address_ = address;
    thread_ = std::thread([this] { serve(); });
  }
  PlainServer(const PlainServer&) = delete;
  PlainServer& operator=(const PlainServer&) = delete;
  ~PlainServer() {
    thread_.join();
    ::close(listener_);
  }

  std::uint16_t port() const { return ntohs(address_.sin_port); }
  int connect() const {
    const int file = stream_socket();
    require(::connect(file, reinterpret_cast<const sockaddr*>(&address_), sizeof address_) == 0, "plain connect");
    return file;
  }

 private:
  void serve() const {
    const Plain client(::accept(listener_, nullptr, nullptr));
    std::string block;
    char question[2];
    while (client.receive(question, 2)) {
      if (question[0] == 'q') {
        client.send(short_answer);
        continue;
      }
      make_block(block);
      block += '\n';
      client.send(block);
    }
  }

  int listener_;
  sockaddr_in address_{};
  std::thread thread_;
};

class AnsweringDevice final : public transport::Device {
 public:
  task<> execute(std::string_view message, transport::Reply& reply) override {
    if (message == "q") {
      reply.bytes = short_answer.substr(0, short_answer.size() - 1);
    } else {
      make_block(reply.bytes);
    }
    co_return;
  }
  void clear() override {}
};

// Our server in a thread of its own, as `eyelevel sim` is a process of its own.
template <class Server>
class OurServer {
 public:
  OurServer() : server_(make(loop_, *timeline_)), stay_(loop_.get_executor()), thread_([this] { loop_.run(); }) {}
  OurServer(const OurServer&) = delete;
  OurServer& operator=(const OurServer&) = delete;
  ~OurServer() {
    boost::asio::post(loop_, [this] {
      server_->stop();
      stay_.reset();
    });
    thread_.join();
  }
  const Server& operator*() const { return *server_; }

 private:
  static std::unique_ptr<Server> make(boost::asio::io_context& loop, base::Timeline& timeline) {
    const auto device = std::make_shared<AnsweringDevice>();
    if constexpr (std::is_same_v<Server, transport::socket::SocketServer>) {
      return std::make_unique<Server>(loop.get_executor(), device, transport::socket::Listen{});
    } else if constexpr (std::is_same_v<Server, transport::hislip::HislipServer>) {
      return std::make_unique<Server>(loop.get_executor(), timeline, transport::hislip::Devices{{"hislip0", device}},
                                      transport::hislip::Listen{});
    } else {
      return std::make_unique<Server>(loop.get_executor(), timeline, transport::vxi11::Devices{{"inst0", device}},
                                      transport::vxi11::Listen{});
    }
  }

  boost::asio::io_context loop_;
  std::unique_ptr<base::Timeline> timeline_ = base::wall_timeline(loop_);
  std::unique_ptr<Server> server_;
  boost::asio::executor_work_guard<boost::asio::io_context::executor_type> stay_;
  std::thread thread_;
};

task<> open(base::Timeline& timeline, std::string name, std::unique_ptr<transport::Session>& session) {
  session = std::make_unique<transport::Session>(
      timeline, co_await transport::socket::connect(transport::parse_resource_name(name)));
}

task<> open_hislip(base::Timeline& timeline, std::string name, std::unique_ptr<transport::Session>& session) {
  session = std::make_unique<transport::Session>(
      timeline, co_await transport::hislip::connect(transport::parse_resource_name(name)));
}

task<> open_vxi11(base::Timeline& timeline, std::string name, std::uint16_t portmapper_port,
                  std::unique_ptr<transport::Session>& session) {
  transport::vxi11::Options options;
  options.portmapper_port = portmapper_port;
  session = std::make_unique<transport::Session>(
      timeline, co_await transport::vxi11::connect(transport::parse_resource_name(name), options));
}

task<> ask(transport::Session& session, std::string_view message, int times, transport::Buffer& answer) {
  for (int i = 0; i < times; ++i) co_await session.query(message, answer, std::chrono::seconds(20));
}

struct Line {
  const char* what;
  double target;
  double tolerated;
};

// Connects a blocking socket to a server of ours.
int connect_plain(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  address.sin_port = htons(port);
  const int file = stream_socket();
  require(::connect(file, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0, "plain connect");
  return file;
}

// As short as a HiSLIP client with blocking sockets can be: no deadline, no clear, nothing but the answer expected.
class PlainHislip {
 public:
  explicit PlainHislip(std::uint16_t port) : sync_(connect_plain(port)), async_(connect_plain(port)) {
    const std::string_view device = "hislip0";
    sync_.send(message(MessageType::initialize, 0, 0x01000000, device));  // 1.0, vendor 0
    const auto response = header_from(sync_);
    async_.send(message(MessageType::async_initialize, 0, response.parameter & 0xFFFFU));
    header_from(async_);
  }

  void query(std::string_view question, char* answer, std::size_t answer_bytes) {
    sync_.send(message(MessageType::data_end, delivered_, id_, question));
    header_from(sync_);
    require(sync_.receive(answer, answer_bytes), "plain HiSLIP answer");
    delivered_ = transport::hislip::rmt_delivered;
    id_ += 2;
  }

 private:
  using MessageType = transport::hislip::MessageType;
  std::string_view message(MessageType type, std::uint8_t control, std::uint32_t parameter,
                           std::string_view payload = {}) {
    transport::hislip::Header header{type, control, parameter};
    header.payload_bytes = payload.size();
    const auto head = transport::hislip::encode(header);
    bytes_.assign(head.data(), head.size());
    return bytes_ += payload;
  }
  static transport::hislip::Header header_from(const Plain& connection) {
    char head[transport::hislip::header_bytes];
    require(connection.receive(head, sizeof head), "plain HiSLIP header");
    return transport::hislip::read_header(std::string_view(head, sizeof head)).header;
  }

  Plain sync_, async_;
  std::string bytes_;
  std::uint8_t delivered_ = 0;
  std::uint32_t id_ = transport::hislip::first_message_id;
};

class Comparison {
 public:
  explicit Comparison(Table& table) : table_(table), plain_(server_.connect()), received_(whole_block_bytes()) {}

  void query(base::Timeline& timeline, transport::Session& session, const Line& line) {
    const auto trips = shortest_of_both(
        5, [&] { timeline.run(ask(session, "q", queries, answer_)); },
        [&] {
          for (int i = 0; i < queries; ++i) {
            plain_.send("q\n");
            require(plain_.receive(received_.data(), short_answer.size()), "plain answer");
          }
        });
    require(answer_ == short_answer.substr(0, short_answer.size() - 1), "the short answer");
    table_.add({.what = line.what,
                .against = "plain blocking sockets over loopback",
                .figure = trips.first_s / trips.second_s,
                .unit = "x the time",
                .target = line.target,
                .tolerated = line.tolerated,
                .less_is_better = true,
                .detail = fmt::format("{:.1f} us against {:.1f} us", trips.first_s / queries * 1e6,
                                      trips.second_s / queries * 1e6)});
  }

  // Only our client's share: both clients ask the same server.
  void query_same_server(base::Timeline& timeline, transport::Session& session, const char* what,
                         const std::function<void()>& plain_query) {
    const auto trips = shortest_of_both(
        5, [&] { timeline.run(ask(session, "q", queries, answer_)); },
        [&] {
          for (int i = 0; i < queries; ++i) plain_query();
        });
    table_.add({.what = what,
                .against = "a client with plain blocking sockets on the same server",
                .figure = trips.first_s / trips.second_s,
                .unit = "x the time",
                .target = 1.3,
                .tolerated = 3.9,
                .less_is_better = true,
                .detail = fmt::format("{:.1f} us against {:.1f} us", trips.first_s / queries * 1e6,
                                      trips.second_s / queries * 1e6)});
  }

  void download(base::Timeline& timeline, transport::Session& session, const Line& line) {
    const auto downloads = shortest_of_both(
        5, [&] { timeline.run(ask(session, "b", blocks, answer_)); },
        [&] {
          for (int i = 0; i < blocks; ++i) {
            plain_.send("b\n");
            require(plain_.receive(received_.data(), received_.size()), "plain block");
          }
        });
    require(answer_.size() + 1 == received_.size() && answer_.back() == '\x7f', "the block");
    const double mb = static_cast<double>(blocks) * static_cast<double>(block_bytes) / 1e6;
    table_.add(
        {.what = line.what,
         .against = "plain blocking sockets over loopback, the same bytes",
         .figure = downloads.second_s / downloads.first_s,
         .unit = "of the rate",
         .target = line.target,
         .tolerated = line.tolerated,
         .less_is_better = false,
         .detail = fmt::format("{:.0f} MB/s against {:.0f} MB/s", mb / downloads.first_s, mb / downloads.second_s)});
  }

 private:
  Table& table_;
  PlainServer server_;
  Plain plain_;
  transport::Buffer answer_;
  std::vector<char> received_;
};

// PyVISA-py in a process of its own on the server of `session`, a socket or, with a portmapper, VXI-11.
void compare_with_pyvisa(Table& table, base::Timeline& timeline, transport::Session& session,
                         std::optional<std::uint16_t> portmapper_port = {}) {
  const std::string command =
      fmt::format("/usr/bin/python3 tests/speed/pyvisa_client.py {} {} {} {} {}", session.resource_name(), queries,
                  blocks, block_bytes, portmapper_port ? std::to_string(*portmapper_port) : "");
  const std::string_view carrier = portmapper_port ? "VXI-11" : "socket";
  const std::unique_ptr<FILE, decltype(&::pclose)> theirs(::popen(command.c_str(), "r"), &::pclose);
  double query_s = 0, block_s = 0;
  require(theirs && std::fscanf(theirs.get(), "%lf %lf", &query_s, &block_s) == 2, "PyVISA-py");
  transport::Buffer answer;
  const double our_query_s = shortest_s(5, [&] { timeline.run(ask(session, "q", queries, answer)); });
  const double our_block_s = shortest_s(5, [&] { timeline.run(ask(session, "b", blocks, answer)); });
  require(answer.size() > block_bytes, "the block");
  const auto add = [&](std::string_view what, double ours, double others, double scale, const char* unit) {
    table.add({.what = fmt::format("{}, {} session", what, carrier),
               .against = "PyVISA-py over the same, on the same server",
               .figure = ours / others,
               .unit = "x the time",
               .target = 1,
               .tolerated = 2,
               .less_is_better = true,
               .detail = fmt::format("{:.1f} {} against {:.1f} {}", ours * scale, unit, others * scale, unit)});
  };
  add("query round trip", our_query_s, query_s, 1e6 / queries, "us");
  add("block download", our_block_s, block_s, 1e3 / blocks, "ms");
}

// As on a bench, where an instrument is a computer of its own: its thread stays on another processor than the client.
void query_of_another_processor(Table& table) {
  const auto all = processors();
  const OnProcessor there(all.back());
  const PlainServer for_session, for_plain;  // each serves one client
  const OurServer<transport::hislip::HislipServer> hislip_server;
  const OnProcessor here(all.front());
  Comparison comparison(table);
  boost::asio::io_context loop;
  const auto timeline = base::wall_timeline(loop);
  std::unique_ptr<transport::Session> session;
  std::string received(short_answer.size(), ' ');

  const Plain plain(for_plain.connect());
  timeline->run(open(*timeline, fmt::format("TCPIP0::127.0.0.1::{}::SOCKET", for_session.port()), session));
  comparison.query_same_server(*timeline, *session, "query round trip, socket session, instrument on another processor",
                               [&] {
                                 plain.send("q\n");
                                 require(plain.receive(received.data(), received.size()), "plain answer");
                               });

  // Both clients on our server, which has a conversation of two connections with each.
  PlainHislip plain_hislip((*hislip_server).port());
  timeline->run(open_hislip(*timeline, (*hislip_server).resource_name(), session));
  comparison.query_same_server(*timeline, *session, "query round trip, HiSLIP session, instrument on another processor",
                               [&] { plain_hislip.query("q\n", received.data(), received.size()); });
  require(received == short_answer, "the plain HiSLIP answer");
}

}  // namespace

void transport_speed(Table& table) {
  query_of_another_processor(table);
  const OnProcessor one(processors().front());
  Comparison comparison(table);
  boost::asio::io_context loop;
  const auto timeline = base::wall_timeline(loop);
  std::unique_ptr<transport::Session> session;

  {
    // Each serves one client.
    const PlainServer for_session, for_plain;
    const Plain plain(for_plain.connect());
    timeline->run(open(*timeline, fmt::format("TCPIP0::127.0.0.1::{}::SOCKET", for_session.port()), session));
    std::string received(short_answer.size(), ' ');
    comparison.query_same_server(*timeline, *session, "query round trip, socket session, client alone", [&] {
      plain.send("q\n");
      require(plain.receive(received.data(), received.size()), "plain answer");
    });
    session.reset();
  }

  const OurServer<transport::socket::SocketServer> socket_server;
  timeline->run(open(*timeline, (*socket_server).resource_name(), session));
  comparison.query(*timeline, *session, {"query round trip, socket session with deadline", 1.3, 3.9});
  comparison.download(*timeline, *session, {"block download, socket session", 0.9, 0.3});

  compare_with_pyvisa(table, *timeline, *session);

  const OurServer<transport::hislip::HislipServer> hislip_server;
  timeline->run(open_hislip(*timeline, (*hislip_server).resource_name(), session));
  comparison.query(*timeline, *session, {"query round trip, HiSLIP session with deadline", 1.3, 3.9});
  {
    PlainHislip plain((*hislip_server).port());
    std::string received(short_answer.size(), ' ');
    comparison.query_same_server(*timeline, *session, "query round trip, HiSLIP session, client alone",
                                 [&] { plain.query("q\n", received.data(), received.size()); });
    require(received == short_answer, "the plain HiSLIP answer");
  }
  comparison.download(*timeline, *session, {"block download, HiSLIP session", 0.9, 0.3});

  // A query is two calls, one that writes and one that reads, each with a reply.
  const OurServer<transport::vxi11::Vxi11Server> vxi11_server;
  timeline->run(open_vxi11(*timeline, (*vxi11_server).resource_name(), (*vxi11_server).portmapper_port(), session));
  comparison.query(*timeline, *session, {"query round trip, VXI-11 session with deadline", 4, 12});
  comparison.download(*timeline, *session, {"block download, VXI-11 session", 0.6, 0.2});
  compare_with_pyvisa(table, *timeline, *session, (*vxi11_server).portmapper_port());
  session.reset();
}

}  // namespace eyelevel::speed
