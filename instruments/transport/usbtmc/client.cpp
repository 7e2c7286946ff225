// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/usbtmc/client.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>
#include <utility>

#include "instruments/transport/error.hpp"
#include "instruments/transport/socket/codec.hpp"
#include "instruments/transport/usbtmc/interrupts.hpp"
#include "instruments/transport/usbtmc/recovery.hpp"

namespace eyelevel::transport::usbtmc {
namespace {

constexpr int most_empty_packets = 16;    // in a row
constexpr int most_empty_transfers = 16;  // in a row, without EOM
constexpr int most_busy_answers = 10;
constexpr base::Duration busy_pause = std::chrono::milliseconds(20);
constexpr std::size_t most_read_bytes = std::size_t{1} << 20U;  // in one bulk_in, so that memory grows as bytes come

class UsbtmcLink final : public Link {
 public:
  UsbtmcLink(base::Timeline& timeline, std::string name, OpenPipe open, Quirks quirks)
      : c_(timeline, std::move(name), quirks), open_(std::move(open)) {}
  ~UsbtmcLink() override { UsbtmcLink::close(); }

  const std::string& resource_name() const override { return c_.name; }

  task<> open() {
    c_.pipe = co_await open_();
    c_.gone = false;
    co_await prepare();
  }

  task<> write(std::string_view message) override {
    co_await rest_from_last_exchange();
    std::size_t at = 0;
    do {
      // NL goes with the last piece (USB488 3.3.1: a program message ends with NL and EOM).
      const std::size_t room = std::max<std::size_t>(c_.quirks.most_out_bytes, 2) - 1;
      const std::size_t count = std::min(room, message.size() - at);
      const bool end = at + count == message.size();
      const auto tag = c_.new_tag();
      transfer_.clear();
      append_message_out(transfer_, tag, message.substr(at, count), end, end ? std::optional('\n') : std::nullopt);
      co_await send(tag, "while sending a message");
      at += count;
    } while (at < message.size());
  }

  // The buffer is not cleared but overwritten: making it smaller and larger again would fill it with zeros each time.
  task<> read(Buffer& into, std::size_t most) override {
    Reading r{.into = into, .most = most, .framer = {socket::Direction::response, most}};
    try {
      while (!co_await read_transfer(r)) {
      }
      into.resize(r.message_bytes);
    } catch (...) {
      into.resize(std::min(r.have, into.size()));  // what came so far, for the message about it
      throw;
    }
    exchange_ended_ = c_.timeline.now();
  }

  task<> clear() override {
    co_await recover(c_, open_);
    if (c_.fresh) co_await prepare();
    exchange_ended_ = c_.timeline.now();
  }

  task<> trigger() override {
    if (!capabilities_.trigger) {
      co_await Link::trigger();
      co_return;
    }
    co_await rest_from_last_exchange();
    const auto tag = c_.new_tag();
    transfer_.clear();
    append_trigger(transfer_, tag);
    co_await send(tag, "while triggering");
  }

  task<std::uint8_t> status_byte() override {
    check_open();
    if (!c_.pipe->endpoints().is_usb488 || c_.quirks.no_status_request || status_request_unknown_)
      co_return co_await Link::status_byte();
    const auto& ends = c_.pipe->endpoints();
    const bool by_interrupt = ends.interrupt_in != 0 && !ends.status_in_answer && !c_.quirks.status_in_answer;
    for (int i = 0; i < most_busy_answers; ++i) {
      status_tag_ = next_status_tag(status_tag_);
      interrupts_.expect(status_tag_);
      const auto told = co_await c_.ask(Request::read_status_byte, status_tag_);
      if (told.is(Status::interrupt_in_busy)) {
        co_await c_.timeline.sleep(busy_pause);
        continue;
      }
      if (told.trouble == Trouble::stall) {
        status_request_unknown_ = true;
        co_return co_await Link::status_byte();
      }
      if (!told.is(Status::success)) no_status(told.text);
      int status = told.answer->status_byte;
      if (by_interrupt)
        status = co_await interrupts_.status(status_tag_);
      else if (!told.answer->complete || told.answer->tag != status_tag_)
        no_status(fmt::format("READ_STATUS_BYTE: byte 1, bTag, is {} instead of {}", told.answer->tag, status_tag_));
      if (status > 0xFF) no_status("no answer of READ_STATUS_BYTE on the Interrupt-IN endpoint");
      co_return static_cast<std::uint8_t>(status | interrupts_.take_rqs());
    }
    no_status(fmt::format("READ_STATUS_BYTE: STATUS_INTERRUPT_IN_BUSY {} times", most_busy_answers));
  }

  task<> wait_for_service() override {
    check_open();
    if (c_.pipe->endpoints().interrupt_in == 0)
      refuse("service requests (no Interrupt-IN endpoint); ask *STB? or *ESR? from time to time");
    if (!co_await interrupts_.wait_for_service()) {
      c_.gone = true;
      c_.fail_with({.bytes = 0, .trouble = Trouble::gone, .what = "the Interrupt-IN endpoint gave up"},
                   c_.pipe->endpoints().interrupt_in, 0, "while waiting for a service request");
    }
  }

  // The system gives an interface to one program at a time, so nobody is waited for.
  task<> lock(std::string key, base::Duration /*wait*/) override {
    check_open();
    if (!key.empty()) refuse("shared locks: USB gives an instrument to one program at a time");
    if (locked_) fail(base::ErrorCode::bad_input, c_.name, "the lock is held already", "release it first");
    locked_ = true;
    co_return;
  }

  task<> unlock() override {
    if (!locked_) fail(base::ErrorCode::bad_input, c_.name, "no lock is held", "lock first");
    locked_ = false;
    co_return;
  }

  task<> remote_local(RemoteLocal what) override {
    check_open();
    if (!capabilities_.remote_local) refuse("remote and local; use the instrument's own key");
    if (what == RemoteLocal::local) {
      co_await control(Request::go_to_local, 0);
      co_return;
    }
    co_await control(Request::ren_control, 1);
    if (what == RemoteLocal::lockout) co_await control(Request::local_lockout, 0);
  }

  void close() noexcept override {
    interrupts_.end();
    c_.packet.forget();
    if (c_.pipe) c_.pipe->close();
    c_.gone = true;
  }

 private:
  struct Reading {
    Buffer& into;
    std::size_t most;
    socket::Framer framer;
    std::size_t have = 0;
    std::size_t message_bytes = 0;
    int empty_transfers = 0;
    bool asked_again = false;
  };

  // After opening, at first and anew.
  task<> prepare() {
    co_await interrupts_.watch(c_.pipe);
    capabilities_ = {};
    status_request_unknown_ = false;
    if (c_.quirks.clear_on_open) co_await recover(c_, open_);
    if (!c_.quirks.no_capabilities) {
      const auto told = co_await c_.ask(Request::get_capabilities, 0);
      if (c_.gone) gone("while asking GET_CAPABILITIES");
      // Stalled, silent or short: nothing beyond the plain class is assumed.
      capabilities_ = read_capabilities(told.bytes).value_or(Capabilities{});
      if (capabilities_.talk_only || capabilities_.listen_only) one_way();
    }
    if (capabilities_.remote_local || c_.quirks.assert_remote) co_await control(Request::ren_control, 1);
    c_.fresh = false;
  }

  task<> control(Request request, std::uint16_t value) {
    const auto told = co_await c_.ask(request, value);
    if (told.is(Status::success)) co_return;
    if (c_.gone) gone(fmt::format("while asking {}", name_of(request)));
    fail(base::ErrorCode::bad_answer, c_.name, told.text, "switch the instrument off and on; then open it again");
  }

  void check_open() {
    if (c_.gone) gone("before the exchange");
  }

  [[noreturn]] void gone(std::string_view doing) {
    c_.fail_with({.bytes = 0, .trouble = Trouble::gone, .what = {}}, 0, 0, doing);
  }

  [[noreturn]] void one_way() const {
    fail(base::ErrorCode::no_connection, c_.name, "the instrument only talks or only listens; it cannot be asked",
         "choose another instrument for this role");
  }

  [[noreturn]] void no_status(std::string_view why) const {
    fail(base::ErrorCode::bad_answer, c_.name, fmt::format("the status byte did not come: {}", why),
         "switch on no_status_request in the phrasebook, so that *STB? is asked instead");
  }

  task<> rest_from_last_exchange() {
    if (c_.quirks.pause_between_messages > base::Duration(0))
      co_await c_.timeline.sleep_until(exchange_ended_ + c_.quirks.pause_between_messages);
  }

  // transfer_ out. An endpoint that was halted before the first byte is cleared and tried once more: nothing was taken.
  task<> send(std::uint8_t tag, std::string_view doing) {
    check_open();
    const auto endpoint = c_.pipe->endpoints().bulk_out;
    c_.open_out = tag;
    auto moved = c_.seen(co_await c_.pipe->bulk_out(transfer_));
    if (moved.trouble == Trouble::stall && moved.bytes == 0) {
      const auto cleared = co_await c_.clear_halt(endpoint);
      if (cleared.trouble == Trouble::none) moved = c_.seen(co_await c_.pipe->bulk_out(transfer_));
    }
    if (moved.trouble != Trouble::none) c_.fail_with(moved, endpoint, tag, doing);
    if (moved.bytes != transfer_.size()) {
      c_.fail_with({.bytes = moved.bytes,
                    .trouble = Trouble::other,
                    .what = fmt::format("{} of {} bytes were taken", moved.bytes, transfer_.size())},
                   endpoint, tag, doing);
    }
    c_.open_out.reset();
    exchange_ended_ = c_.timeline.now();
  }

  // Asks for the next piece and takes it; true when the answer is complete.
  task<bool> read_transfer(Reading& r) {
    const Asked asked{c_.new_tag(), std::max(c_.quirks.most_request_bytes, std::uint32_t{1})};
    transfer_.clear();
    append_request_in(transfer_, asked.tag, asked.most_bytes);
    co_await send(asked.tag, "while asking for an answer");
    c_.open_in = asked.tag;
    const auto header = co_await first_packet(r, asked);
    if (!header) co_return false;
    co_await data(r, *header);
    c_.open_in.reset();
    co_return co_await is_complete(r, *header);
  }

  // The header of the transfer; empty when the request must be made again.
  task<std::optional<BulkHeader>> first_packet(Reading& r, const Asked& asked) {
    const auto endpoint = c_.pipe->endpoints().bulk_in;
    for (int empty = 0; empty < most_empty_packets;) {
      const auto moved = c_.seen(co_await c_.packet.take(c_.pipe));
      if (moved.trouble == Trouble::stall) {
        c_.in_stalled = true;
        c_.open_in.reset();  // the transfer is over (USBTMC 4.1.1.2)
        if (!r.asked_again && (co_await c_.clear_halt(endpoint)).trouble == Trouble::none) {
          r.asked_again = true;
          co_return std::nullopt;
        }
      }
      if (moved.trouble != Trouble::none) c_.fail_with(moved, endpoint, asked.tag, "while reading an answer");
      const auto bytes = c_.packet.bytes();
      if (bytes.empty()) {
        ++empty;
        c_.tail_open = false;
        continue;
      }
      const auto header = read_header(bytes);
      const auto check = header ? check_in_header(*header, asked)
                                : InCheck{InFault::msg_id, fmt::format("{} bytes cannot hold a header", bytes.size())};
      if (c_.tail_open && check.fault != InFault::none && check.fault != InFault::transfer_size) {
        c_.tail_open = false;  // alignment bytes of the transfer before
        continue;
      }
      c_.tail_open = false;
      if (!header || !is_tolerated(check.fault)) bad(r, check.text, bytes);
      co_return header;
    }
    bad(r, fmt::format("{} empty packets in a row instead of an answer", most_empty_packets), {});
  }

  bool is_tolerated(InFault fault) const {
    switch (fault) {
      case InFault::none: return true;
      case InFault::msg_id: return c_.quirks.wrong_msg_id;
      case InFault::tag:
      case InFault::tag_inverse: return c_.quirks.wrong_tag;
      case InFault::transfer_size: return c_.quirks.more_than_asked || c_.quirks.header_once;
    }
    return false;
  }

  // What follows the header: the rest of the first packet, then whole packets into the caller's buffer.
  task<> data(Reading& r, const BulkHeader& header) {
    const auto first = c_.packet.bytes();
    const std::size_t packet = c_.pipe->endpoints().bulk_in_packet_bytes;
    std::size_t need = header.transfer_size;
    if (need > r.most - r.have && !c_.quirks.header_once)
      bad(r,
          fmt::format("{} bytes are announced behind the {} that came, more than the limit of {} bytes", need, r.have,
                      r.most),
          {});
    const auto rest = first.substr(header_bytes, need);
    put(r, rest);
    need -= rest.size();
    bool is_open = first.size() == packet;  // no short packet yet
    if (c_.quirks.header_once && need > 0) need = std::min(need, is_open ? r.most - r.have : 0);
    while (need > 0) {
      if (!is_open && !c_.quirks.short_packets_inside)
        bad(r, fmt::format("the transfer ended {} bytes before its TransferSize of {}", need, header.transfer_size),
            {});
      const std::size_t count = co_await packets(r, need);
      is_open = count % packet == 0;
      need -= std::min(count, need);
    }
    if (is_open) {
      // An empty packet, or one of alignment bytes, may follow; an instrument that forgets it is not waited for.
      c_.tail_open = true;
      co_await c_.packet.start(c_.pipe);
    }
  }

  // Reads packets for at most `need` bytes behind what is there; gives how many came, with alignment bytes.
  task<std::size_t> packets(Reading& r, std::size_t need) {
    const std::size_t packet = c_.pipe->endpoints().bulk_in_packet_bytes;
    const std::size_t most = std::max(most_read_bytes / packet, std::size_t{1}) * packet;
    const std::size_t size = std::min((need + packet - 1) / packet * packet, most);
    if (r.into.size() < r.have + size) r.into.resize(r.have + size);
    for (int empty = 0; empty < most_empty_packets; ++empty) {
      const auto moved = c_.seen(co_await c_.pipe->bulk_in(std::span(r.into).subspan(r.have, size)));
      const auto tag = c_.open_in.value_or(0);
      if (moved.trouble == Trouble::stall) {
        c_.in_stalled = true;
        c_.open_in.reset();
      }
      if (moved.trouble != Trouble::none)
        c_.fail_with(moved, c_.pipe->endpoints().bulk_in, tag, "in the middle of an answer");
      r.have += std::min(moved.bytes, need);
      tell_progress(std::string_view(r.into.data(), r.have));
      if (moved.bytes > 0) co_return moved.bytes;
    }
    bad(r, fmt::format("{} empty packets in a row in the middle of an answer", most_empty_packets), {});
  }

  task<bool> is_complete(Reading& r, const BulkHeader& header) {
    const bool eom = (header.attributes & eom_bit) != 0;
    auto found = r.framer.scan(std::string_view(r.into.data(), r.have));
    if (!found.fault.empty()) bad(r, found.fault, {});
    if (c_.quirks.header_once && found.missing > 0) {
      co_await read_without_header(r, found);
      co_return finish(r, found);
    }
    if (eom && !(c_.quirks.eom_too_early && found.missing > 0)) co_return finish(r, found);
    if (c_.quirks.eom_missing && found.complete && found.consumed == r.have) co_return finish(r, found);
    r.empty_transfers = header.transfer_size == 0 ? r.empty_transfers + 1 : 0;
    if (r.empty_transfers == most_empty_transfers)
      bad(r, fmt::format("{} transfers in a row without data and without an end", most_empty_transfers), {});
    co_return false;
  }

  // The rest of a block that comes without headers and requests.
  task<> read_without_header(Reading& r, socket::Framer::Found& found) {
    if (c_.tail_open) {  // the packet that was begun at the end of the transfer belongs to the data
      c_.tail_open = false;
      const auto moved = c_.seen(co_await c_.packet.take(c_.pipe));
      if (moved.trouble != Trouble::none)
        c_.fail_with(moved, c_.pipe->endpoints().bulk_in, 0, "in the middle of a block");
      put(r, c_.packet.bytes().substr(0, found.missing));
    }
    for (found = r.framer.scan(std::string_view(r.into.data(), r.have)); found.missing > 0;
         found = r.framer.scan(std::string_view(r.into.data(), r.have)))
      co_await packets(r, found.missing);
    if (!found.fault.empty()) bad(r, found.fault, {});
  }

  // EOM came: the message without its terminator, and nothing but the message.
  bool finish(Reading& r, const socket::Framer::Found& found) {
    if (r.have == 0) bad(r, "the instrument answered with nothing", {});
    if (found.missing > 1) bad(r, fmt::format("a block ends {} bytes too early", found.missing - 1), {});
    r.message_bytes = found.complete ? found.message_bytes : r.have;
    if (found.complete)
      for (std::size_t i = found.consumed; i < r.have; ++i)
        if (static_cast<unsigned char>(r.into[i]) > ' ')
          bad(r, fmt::format("the answer goes on after its end at byte {}", found.consumed), {});
    return true;
  }

  static void put(Reading& r, std::string_view bytes) {
    if (r.into.size() < r.have + bytes.size()) r.into.resize(r.have + bytes.size());
    bytes.copy(r.into.data() + r.have, bytes.size());
    r.have += bytes.size();
  }

  [[noreturn]] void bad(const Reading& r, std::string why, std::string_view packet) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = c_.name;
    record.message = std::move(why);
    record.received = packet.empty() ? r.into.substr(0, std::min<std::size_t>(r.have, 400)) : std::string(packet);
    record.expected = "a response message in DEV_DEP_MSG_IN transfers";
    record.advice = "ask again; if it stays so, a phrasebook of this instrument may need a quirk of USBTMC";
    throw TransportError(std::move(record));
  }

  Conversation c_;
  OpenPipe open_;
  Interrupts interrupts_;
  Capabilities capabilities_;
  std::string transfer_;  // on its way out; kept for its capacity
  std::uint8_t status_tag_ = 1;
  bool status_request_unknown_ = false;
  bool locked_ = false;
  base::Duration exchange_ended_{0};
};

}  // namespace

task<std::unique_ptr<Link>> connect(base::Timeline& timeline, std::string resource_name, OpenPipe open, Quirks quirks) {
  auto link = std::make_unique<UsbtmcLink>(timeline, std::move(resource_name), std::move(open), quirks);
  co_await link->open();
  co_return link;
}

}  // namespace eyelevel::transport::usbtmc
