// SPDX-License-Identifier: Apache-2.0
#include "core/program/story.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include "core/base/error.hpp"
#include "core/program/output.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {
namespace {

std::string minutes(double time_s) {
  const int whole = static_cast<int>(time_s);
  return fmt::format("{:3d}:{:02d}", whole / 60, whole % 60);
}

}  // namespace

Story::Story(std::FILE* out) : out_(out), live_(::isatty(::fileno(out)) == 1) {}

template <class... Args>
void Story::print(fmt::format_string<Args...> text, Args&&... args) {
  put(out_, fmt::format(text, std::forward<Args>(args)...));
}

void Story::say(double time_s, std::string_view mark, const std::string& text) {
  print("{}  {:<2}{}\n", minutes(time_s), mark, text);
}

void Story::count(const event::Event& event, const event::Captured& captured) {
  if (captured.name != counting_) end_count();
  counting_ = captured.name;
  ++tried_;
  kept_ += captured.not_kept.empty();
  if (live_) {
    print("\r{}    {}: {} of {} captures kept", minutes(event.time_s), counting_, kept_, tried_);
  }
}

// What came of a series is told by its note.
void Story::end_count() {
  if (live_ && tried_ > 0) print("\r{:70}\r", "");
  kept_ = tried_ = 0;
  counting_.clear();
}

std::string Story::left_safe() const {
  if (is_safe_) return any_instrument_ ? "; every instrument was left safe" : "";
  return "; NOT every instrument confirmed that it is safe: look, and switch it off by hand";
}

void Story::told(const event::Event& event) {
  if (const auto* captured = std::get_if<event::Captured>(&event.body)) return count(event, *captured);
  end_count();
  const double t = event.time_s;
  const auto tell = [&](const auto& body) {
    using Body = std::decay_t<decltype(body)>;
    if constexpr (std::is_same_v<Body, event::Begun>) {
      print("{}{}{}\n", body.about.empty() ? body.sequence : body.about,
            body.serial.empty() ? std::string() : ", " + body.serial,
            body.bench.empty() ? std::string() : ", bench " + body.bench);
      if (!body.goes_on_from.empty()) print("  goes on from run {}\n", body.goes_on_from);
      for (const auto& caution : body.cautions) print("  caution: {}\n", caution);
      if (body.proof) print("  {}\n", report::proof_text(body.proof));
    } else if constexpr (std::is_same_v<Body, event::Connected>) {
      any_instrument_ = true;
      say(t, "", fmt::format("{} is {}", body.instrument.role, body.instrument.identity));
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
    } else if constexpr (std::is_same_v<Body, event::Proved>) {
      say(t, "", base::escaped(report::proved_text(body)));
    } else if constexpr (std::is_same_v<Body, event::Advised>) {
      say(t, "", fmt::format("advice {}: {}; {}", body.turn, body.words, report::prospect_text(body)));
    } else if constexpr (std::is_same_v<Body, event::Found>) {
      say(t, "", fmt::format("found: {}: {}", body.cause, base::escaped(body.because)));
    } else if constexpr (std::is_same_v<Body, event::Enclosed>) {
      say(t, "",
          fmt::format("enclosed: {} ({}, {} bytes)", body.about, base::escaped(body.file_name), body.size_bytes));
    } else if constexpr (std::is_same_v<Body, event::Diagnosed>) {
      for (const event::Finding& f : body.findings) say(t, "=", fmt::format("{}: {}", f.cause, f.because));
      if (!body.next_check.empty()) say(t, "", "next: " + body.next_check);
    } else if constexpr (std::is_same_v<Body, event::Noted>) {
      say(t, "", "note: " + body.text);
    } else if constexpr (std::is_same_v<Body, event::BrokenOff>) {
      if (body.place.verb == "make safe") is_safe_ = false;
      say(t, "!", base::describe(body.error));
    } else if constexpr (std::is_same_v<Body, event::Closed>) {
      say(t, "", fmt::format("{}, {}{}", body.ended, report::judgement_text(body.judgement), left_safe()));
    }
  };
  std::visit(tell, event.body);
}

}  // namespace eyelevel::program
