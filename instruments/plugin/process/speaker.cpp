// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/process/speaker.hpp"

#include <fmt/format.h>

#include <boost/system/system_error.hpp>

#include "core/base/deadline.hpp"
#include "instruments/plugin/plugin.hpp"
#include "instruments/plugin/process/codec.hpp"

namespace eyelevel::plugin::process {

using base::ErrorCode;

namespace {

// How long a process that closed its output has to end, so that its status can be told.
constexpr base::Duration status_limit = std::chrono::seconds(1);

// The right to speak to the process.
class Turn {
 public:
  Turn(bool& is_busy, base::Gong& free) : is_busy_(is_busy), free_(free) { is_busy_ = true; }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;
  ~Turn() {
    is_busy_ = false;
    free_.strike();
  }

 private:
  bool& is_busy_;
  base::Gong& free_;
};

}  // namespace

Speaker::Speaker(Manifest manifest, Rest rest)
    : manifest_(std::move(manifest)), from_(from_of(manifest_)), rest_(rest) {}

Speaker::~Speaker() {
  worker_.done_blocking([this]() -> task<> {
    put_away();
    co_return;
  });
}

std::vector<registers::OutsidePart> Speaker::hello() {
  std::vector<registers::OutsidePart> parts;
  worker_.done_blocking([&] {
    return in_turn(
        [&](base::Duration) -> task<> {
          parts = parts_;
          co_return;
        },
        manifest_.starts_within);
  });
  return parts;
}

task<registers::Answer> Speaker::ask(registers::Question question, base::Timeline& caller, base::Duration within) {
  registers::Answer answer;
  const MakeLine make = [&](std::int64_t id) { return question_line(id, question); };
  const Take take = [&](std::string_view line, std::int64_t id) { answer = parse_answer(line, id, from_); };
  const auto asked = [&](base::Duration due) {
    return exchange(make, take, std::min(due - worker_.timeline().now(), manifest_.answers_within));
  };
  co_await worker_.done(caller, [&] { return in_turn(asked, within); });
  co_return answer;
}

bool Speaker::ends_by_itself(base::Duration within) {
  bool ended = true;
  worker_.done_blocking([&]() -> task<> {
    if (child_) ended = co_await child_->ended_within(worker_.timeline(), within);
    put_away();
  });
  return ended;
}

task<> Speaker::in_turn(std::function<task<>(base::Duration due)> what, base::Duration within) {
  while (is_busy_) co_await free_.wait();
  const Turn turn(is_busy_, free_);
  const base::Duration begun = worker_.timeline().now();
  std::optional<base::Error> wrong;
  std::exception_ptr cancelled;
  try {
    if (!child_) co_await start(begun + within);
    co_await what(begun + within);
  } catch (const base::Error& error) {
    wrong = error;
  } catch (...) {
    cancelled = std::current_exception();
  }
  if (cancelled) {
    put_away();  // its answer may still be under way
    std::rethrow_exception(cancelled);
  }
  const bool is_its_own_word = wrong && wrong->record().code == ErrorCode::instrument_error;
  if (!wrong || is_its_own_word) failures_ = 0;
  if (is_its_own_word) throw base::Error(*wrong);
  if (!wrong) co_return;
  bool has_ended = false;
  if (child_ && wrong->record().code == ErrorCode::connection_lost)
    has_ended = co_await child_->ended_within(worker_.timeline(), status_limit);
  broke(*wrong, has_ended, base::to_seconds(worker_.timeline().now() - begun));
}

task<> Speaker::exchange(const MakeLine& make, const Take& take, base::Duration within) {
  base::Timeline& timeline = worker_.timeline();
  if (child_->has_more()) throw base::Error(ErrorCode::bad_answer, "it spoke without being asked");
  const std::int64_t id = ++asked_;
  const std::string question = make(id);
  std::string line;
  auto both = [](Child& child, const std::string& out, std::string& in) -> task<> {
    co_await child.write(out);
    in = co_await child.read_line(line_most);
  };
  if (!co_await base::finished_within(timeline, within, both(*child_, question, line)))
    throw base::Error(ErrorCode::time_out, "no answer in time: it hangs");
  take(line, id);
  if (child_->has_more()) throw base::Error(ErrorCode::bad_answer, "it floods: there is more than one line of answer");
}

task<> Speaker::start(base::Duration due) {
  base::Timeline& timeline = worker_.timeline();
  if (failures_ >= rest_.failures_most)
    throw base::Error(ErrorCode::no_connection, fmt::format("it broke {} times in a row and is given up", failures_),
                      "mend the plugin, then begin again");
  if (rests_until_ > due)
    throw base::Error(ErrorCode::no_connection,
                      fmt::format("it broke {} times in a row and rests for another {:.2g} s", failures_,
                                  base::to_seconds(rests_until_ - timeline.now())),
                      "mend the plugin");
  if (rests_until_ > timeline.now()) co_await timeline.sleep_until(rests_until_);
  child_ = co_await Child::start(
      {.program = manifest_.program, .folder = manifest_.folder, .memory_bytes = manifest_.memory_bytes});
  const Take take = [this](std::string_view line, std::int64_t id) { parts_ = parse_hello(line, id, from_).parts; };
  co_await exchange(hello_line, take, std::min(due - timeline.now(), manifest_.starts_within));
}

void Speaker::broke(const base::Error& error, bool has_ended, double after_s) {
  base::ErrorRecord record = error.record();
  const bool was_there = child_ != nullptr;
  const std::string ending = child_ && has_ended ? child_->how_it_ended() : std::string();
  const std::string words = child_ ? child_->last_words() : std::string();
  put_away();
  if (was_there || record.code != ErrorCode::no_connection || failures_ < rest_.failures_most) {
    const auto shift = std::min(failures_, 20);
    ++failures_;
    rests_until_ = worker_.timeline().now() + std::min(rest_.first * (std::int64_t{1} << shift), rest_.most);
  }
  record.where = from_;
  // A lost connection would have the run open its instruments anew, which have nothing to do with it.
  if (record.code == ErrorCode::connection_lost) {
    record.code = ErrorCode::bad_answer;
    record.message = "it crashed: " + record.message;
  }
  if (!ending.empty()) record.message += "; it " + ending;
  if (!words.empty()) record.message += "; it said last: " + words;
  record.elapsed_s = after_s;
  if (record.advice.empty())
    record.advice = "try the plugin by itself: eyelevel plugins --try " + manifest_.folder.string();
  throw base::Error(std::move(record));
}

void Speaker::put_away() { child_.reset(); }

}  // namespace eyelevel::plugin::process
