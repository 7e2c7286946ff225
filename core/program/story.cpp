// SPDX-License-Identifier: Apache-2.0
#include "core/program/story.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include "core/base/error.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {
namespace {

std::string minutes(double time_s) {
  const int whole = static_cast<int>(time_s);
  return fmt::format("{:3d}:{:02d}", whole / 60, whole % 60);
}

}  // namespace

Story::Story(std::FILE* out) : out_(out), live_(::isatty(::fileno(out)) == 1) {}

void Story::say(double time_s, std::string_view mark, const std::string& text) {
  fmt::print(out_, "{}  {:<2}{}\n", minutes(time_s), mark, text);
  std::fflush(out_);
}

void Story::count(const event::Event& event, const event::Captured& captured) {
  if (captured.name != counting_) end_count();
  counting_ = captured.name;
  ++tried_;
  kept_ += captured.not_kept.empty();
  if (live_) {
    fmt::print(out_, "\r{}    {}: {} of {} captures kept", minutes(event.time_s), counting_, kept_, tried_);
    std::fflush(out_);
  }
}

// What came of a series is told by its note.
void Story::end_count() {
  if (live_ && tried_ > 0) fmt::print(out_, "\r{:70}\r", "");
  kept_ = tried_ = 0;
  counting_.clear();
}

void Story::told(const event::Event& event) {
  if (const auto* captured = std::get_if<event::Captured>(&event.body)) return count(event, *captured);
  end_count();
  const double t = event.time_s;
  const auto tell = [&](const auto& body) {
    using Body = std::decay_t<decltype(body)>;
    if constexpr (std::is_same_v<Body, event::Begun>) {
      fmt::print(out_, "{}{}{}\n", body.about.empty() ? body.sequence : body.about,
                 body.serial.empty() ? std::string() : ", " + body.serial,
                 body.bench.empty() ? std::string() : ", bench " + body.bench);
      for (const auto& caution : body.cautions) fmt::print(out_, "  caution: {}\n", caution);
    } else if constexpr (std::is_same_v<Body, event::Connected>) {
      say(t, "", fmt::format("{} is {}", body.instrument.role, base::escaped(body.instrument.identity)));
    } else if constexpr (std::is_same_v<Body, event::Prompted>) {
      say(t, ">", body.text);
    } else if constexpr (std::is_same_v<Body, event::Answered>) {
      say(t, "<", fmt::format("{} ({})", base::escaped(body.answer), body.by));
    } else if constexpr (std::is_same_v<Body, event::Seen>) {
      say(t, "", body.what);
    } else if constexpr (std::is_same_v<Body, event::Measured>) {
      say(t, "=", fmt::format("{} is {}", body.reading.name, report::value_text(body.reading)));
    } else if constexpr (std::is_same_v<Body, event::Judged>) {
      say(t, "", fmt::format("{}: {}", body.reading, report::judgement_text(body.judgement)));
    } else if constexpr (std::is_same_v<Body, event::Noted>) {
      say(t, "", "note: " + body.text);
    } else if constexpr (std::is_same_v<Body, event::BrokenOff>) {
      say(t, "!", base::describe(body.error));
    } else if constexpr (std::is_same_v<Body, event::Closed>) {
      say(t, "",
          fmt::format("{}, {}; every instrument was left safe", body.ended, report::judgement_text(body.judgement)));
    }
  };
  std::visit(tell, event.body);
}

}  // namespace eyelevel::program
