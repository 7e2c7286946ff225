// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/visa/client.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <functional>
#include <limits>
#include <mutex>
#include <utility>
#include <vector>

#include "instruments/transport/detail/answer_end.hpp"
#include "instruments/transport/detail/other_thread.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::transport::visa {
namespace {

// A call that is waited for no longer holds the instrument for so long at most.
constexpr std::uint32_t slice_ms = 200;
constexpr std::uint32_t open_ms = 2000;
constexpr std::size_t piece_bytes = std::size_t{1} << 20U;

// One open instrument. Its jobs own it, so that it is closed when the last of them has ended.
struct Opened {
  Opened(std::shared_ptr<const Library> loaded, Session opened) : library(std::move(loaded)), session(opened) {}
  Opened(const Opened&) = delete;
  Opened& operator=(const Opened&) = delete;
  ~Opened() { library->call().close(session); }

  std::shared_ptr<const Library> library;
  Session session;
  std::mutex busy;  // one call at a time; guards what follows
  std::vector<unsigned char> piece = std::vector<unsigned char>(piece_bytes);
  bool service_enabled = false;
};

struct Done {
  Status status = success;
  std::size_t bytes = 0;
  std::string words = {};  // when it failed
};

// Asked between two slices.
using GivenUp = std::atomic<bool>;
using Job = std::function<Done(Opened&, const GivenUp&)>;

Done on(std::shared_ptr<Opened> opened, const Job& job, const GivenUp& given_up) {
  const std::scoped_lock lock(opened->busy);
  if (given_up) return {};
  Done done = job(*opened, given_up);
  if (done.status < 0) done.words = opened->library->words_for(opened->session, done.status);
  return done;
}

Done write_all(Opened& it, const GivenUp& given_up, std::string_view message) {
  Done done;
  while (done.bytes < message.size() && !given_up) {
    const auto rest = message.substr(done.bytes);
    std::uint32_t written = 0;
    done.status = it.library->call().write(it.session, reinterpret_cast<const unsigned char*>(rest.data()),
                                           static_cast<std::uint32_t>(rest.size()), &written);
    done.bytes += std::min<std::size_t>(written, rest.size());
    if (done.status < 0 && done.status != time_out) return done;
  }
  done.status = success;
  return done;
}

// What comes up to END, or as much as one piece holds.
Done read_piece(Opened& it, const GivenUp& given_up) {
  Done done;
  do {
    std::uint32_t got = 0;
    done.status =
        it.library->call().read(it.session, it.piece.data(), static_cast<std::uint32_t>(it.piece.size()), &got);
    done.bytes = std::min<std::size_t>(got, it.piece.size());
  } while (done.status == time_out && done.bytes == 0 && !given_up);
  return done;
}

Done wait_for_request(Opened& it, const GivenUp& given_up) {
  const Functions& call = it.library->call();
  Done done;
  if (!it.service_enabled) done.status = call.enable_event(it.session, event_service_request, mechanism_queue, 0);
  if (done.status < 0) return done;
  it.service_enabled = true;
  do {
    std::uint32_t which = 0;
    Session context = 0;
    done.status = call.wait_on_event(it.session, event_service_request, slice_ms, &which, &context);
    if (done.status >= 0) call.close(context);
  } while (done.status == time_out && !given_up);
  return done;
}

class VisaLink final : public Link {
 public:
  VisaLink(std::shared_ptr<Visa> visa, std::string name, std::shared_ptr<Opened> opened)
      : visa_(std::move(visa)), text_(std::move(name)), opened_(std::move(opened)) {}
  ~VisaLink() override { VisaLink::close(); }

  const std::string& resource_name() const override { return text_; }

  task<> write(std::string_view message) override {
    const auto bytes = std::make_shared<const std::string>(std::string(message) + '\n');
    const Done done =
        co_await run([bytes](Opened& it, const GivenUp& given_up) { return write_all(it, given_up, *bytes); });
    check(done, "while sending");
  }

  task<> read(Buffer& into, std::size_t most) override {
    into.clear();
    for (Status status = time_out; status == time_out || status == success_most_bytes;) {
      const Done done = co_await run(read_piece);
      if (done.status != time_out) check(done, "while reading");
      into.append(reinterpret_cast<const char*>(opened_->piece.data()), done.bytes);
      tell_progress(into);
      status = done.status;
      if (into.size() > most + 1)
        refuse_answer(fmt::format("the answer is longer than the limit of {} bytes", most), into);
    }
    const auto end = detail::answer_end(into, most);
    if (!end.fault.empty()) refuse_answer(end.fault, into);
    into.resize(end.message_bytes);
  }

  task<> clear() override {
    const Done done =
        co_await run([](Opened& it, const GivenUp&) { return Done{it.library->call().clear(it.session)}; });
    check(done, "while clearing");
  }

  task<> trigger() override {
    const Done done =
        co_await run([](Opened& it, const GivenUp&) { return Done{it.library->call().assert_trigger(it.session, 0)}; });
    check(done, "while triggering");
  }

  task<std::uint8_t> status_byte() override {
    const Done done = co_await run([](Opened& it, const GivenUp&) {
      std::uint16_t status = 0;
      const Status told = it.library->call().read_status_byte(it.session, &status);
      return Done{told, status};
    });
    check(done, "while polling");
    co_return static_cast<std::uint8_t>(done.bytes);
  }

  task<> wait_for_service() override {
    require_open();
    const Functions& call = opened_->library->call();
    if (call.enable_event == nullptr || call.wait_on_event == nullptr)
      refuse("service requests in this VISA library; ask *STB? or *ESR? from time to time");
    const Done done = co_await run(wait_for_request);
    check(done, "while waiting for a service request");
  }

  task<> lock(std::string key, base::Duration wait) override {
    const auto wait_ms = static_cast<std::uint32_t>(std::clamp<std::int64_t>(
        std::chrono::ceil<std::chrono::milliseconds>(wait).count(), 0, std::numeric_limits<std::uint32_t>::max() - 1));
    if (key.size() > 255)
      fail(base::ErrorCode::bad_input, text_, "the key of a lock has more than 255 bytes", "choose a shorter key");
    const Done done = co_await run([key, wait_ms](Opened& it, const GivenUp&) {
      std::array<char, 256> given{};
      return Done{it.library->call().lock(it.session, key.empty() ? exclusive_lock : shared_lock, wait_ms,
                                          key.empty() ? nullptr : key.c_str(), key.empty() ? nullptr : given.data())};
    });
    if (done.status == time_out || done.status == locked)
      fail(base::ErrorCode::no_connection, text_,
           fmt::format("someone else has locked the instrument, for longer than {:.2f} s", base::to_seconds(wait)),
           "release it there, or wait longer");
    check(done, "while locking");
  }

  task<> unlock() override {
    const Done done =
        co_await run([](Opened& it, const GivenUp&) { return Done{it.library->call().unlock(it.session)}; });
    if (done.status < 0) fail(base::ErrorCode::bad_input, text_, "no lock is held: " + done.words, "lock first");
  }

  // Closing may block: not on the loop's thread.
  void close() noexcept override {
    if (opened_) boost::asio::post(visa_->worker(), [opened = std::exchange(opened_, nullptr)] {});
  }

 private:
  void require_open() const {
    if (!opened_) fail(base::ErrorCode::connection_lost, text_, "the connection is closed", "open it again");
  }

  task<Done> run(Job job) {
    require_open();
    struct Leave {
      std::shared_ptr<GivenUp> given_up;
      ~Leave() { *given_up = true; }
    };
    const Leave leave{std::make_shared<GivenUp>(false)};
    co_return co_await detail::on_worker<Done>(
        visa_->worker(),
        [opened = opened_, job = std::move(job), given_up = leave.given_up] { return on(opened, job, *given_up); });
  }

  void check(const Done& done, std::string_view doing) const {
    if (done.status >= 0) return;
    if (done.status == locked)
      fail(base::ErrorCode::no_connection, text_, "someone else has locked the instrument", "release it there");
    fail(base::ErrorCode::connection_lost, text_, fmt::format("{}: the VISA library says {}", doing, done.words),
         "look at the cable and the address; the connection is cleared before the next message");
  }

  [[noreturn]] void refuse_answer(std::string why, std::string_view received) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = text_;
    record.message = std::move(why);
    record.received = std::string(received.substr(0, 400));
    record.expected = "one response message whose blocks are as long as they say";
    record.advice = "ask again; if it stays so, ask for fewer points";
    throw TransportError(std::move(record));
  }

  std::shared_ptr<Visa> visa_;
  std::string text_;
  std::shared_ptr<Opened> opened_;
};

struct OpenedOrWhy {
  std::shared_ptr<Opened> opened;
  std::string why;
};

// On a worker's thread.
OpenedOrWhy open_now(const std::string& file, const std::string& name) {
  std::shared_ptr<const Library> library;
  try {
    library = std::make_shared<const Library>(file);
  } catch (const base::Error& error) {
    return {nullptr, error.record().message};
  }
  Session session = 0;
  const Status status = library->call().open(library->manager(), name.c_str(), 0, open_ms, &session);
  if (status < 0) return {nullptr, "the VISA library says " + library->words_for(library->manager(), status)};
  auto opened = std::make_shared<Opened>(library, session);
  for (const auto& [attribute, value] : {std::pair{attribute_time_out, std::uint64_t{slice_ms}},
                                         std::pair{attribute_termination_character_on, std::uint64_t{0}},
                                         std::pair{attribute_send_end, std::uint64_t{1}}}) {
    const Status set = library->call().set_attribute(session, attribute, value);
    if (set < 0) return {nullptr, fmt::format("attribute {:#010x}: {}", attribute, library->words_for(session, set))};
  }
  return {std::move(opened), {}};
}

}  // namespace

task<std::unique_ptr<Link>> connect(std::shared_ptr<Visa> visa, ResourceName name) {
  const std::string text = name.canonical();
  auto found = co_await detail::on_worker<OpenedOrWhy>(visa->worker(),
                                                       [file = visa->file(), text] { return open_now(file, text); });
  if (!found.opened)
    fail(base::ErrorCode::no_connection, text, found.why,
         "is the VISA library of the GPIB interface installed, the instrument on, and the address right?");
  co_return std::make_unique<VisaLink>(std::move(visa), text, std::move(found.opened));
}

}  // namespace eyelevel::transport::visa
