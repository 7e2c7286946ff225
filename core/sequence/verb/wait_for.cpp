// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/wait_for.hpp"

#include <fmt/format.h>

#include "core/quantity/text.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/sequence/verb/audio_watch.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::sequence {

namespace {

// One complete block of the Q channel for sure: 196 frames at 1x (ECMA-130 22.2, 22.3); 30 ms leaves some more.
constexpr double block_s = 26.67e-3;
constexpr double long_look_s = 30e-3;
constexpr double short_look_s = 500e-6;
// The position stands in the runs' lengths, not in their levels: with so many samples for a channel bit it is read as
// well, and a long look takes half as long to transfer and to decode as with what a level needs.
constexpr double samples_per_bit = 2.4;
constexpr double channel_rate_1x_hz = 4.3218e6;  // ECMA-130 11.4, 21
constexpr double no_eye_pause_s = 0.25;
constexpr double other_pause_s = 1.0;  // a long look costs more than a short one, for everybody
// Without a Q block: so many settled eyes in a row, and I3/I11 within this share of their mean.
constexpr std::size_t settled_looks = 5;
constexpr double ratio_spread = 0.1;
// Spinning up, focus, the table of contents, the track (practice value).
constexpr double usual_wait_s = 8;

// A picture cut off at the edge of the screen shows no eye, whatever the disc does.
std::string no_eye_in_words(const disc::Analysis& analysis) {
  constexpr double cut_off_most = 0.1;
  return analysis.clipped_share > cut_off_most ? "no eye: the signal lies beyond the screen" : "no eye";
}

class WaitForAudio final : public Action {
 public:
  explicit WaitForAudio(SignalPlace signal) : signal_(std::move(signal)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    context.tell(event::Waiting{step.place, "an audio track", base::to_seconds(*step.within)});
    co_await context.announce();
    const double points =
        static_cast<double>(context.instrument(signal_.role).ability.value_or(bench::OscilloscopeAbility{}).points_max);
    const double holds_s = points / rate_hz(context, signal_);
    if (holds_s >= block_s) {
      co_await by_position(context, step, std::min(holds_s, long_look_s));
    } else {
      co_await by_word(context, step, points);
    }
    co_return std::monostate{};
  }
  double likely_s() const override { return usual_wait_s; }
  std::optional<bool> leaves_laser_lit() const override { return true; }
  std::string advice_when_late() const override {
    return "does the disc turn, is the probe on the pad, was an audio track started?";
  }

 private:
  // Tells what is seen when it is something new, at once: it is what the operator waits for.
  struct Sight {
    std::string last;
  };
  task<> see(RunContext& context, const Step& step, Sight& sight, std::string what) const {
    context.progress() = "last seen: " + what;
    if (what == sight.last) co_return;
    sight.last = what;
    context.tell(event::Seen{step.place, std::move(what)});
    co_await context.announce();
  }

  task<> pause(RunContext& context, double seconds) const {
    co_await context.timeline().sleep(base::from_seconds(seconds * context.random().uniform(0.8, 1.2)));
  }

  // A short look; waits and looks again until there is a locked eye.
  task<disc::Analysis> eye(RunContext& context, const Step& step, Sight& sight) const {
    for (;;) {
      const Acquired look = co_await acquire(context, signal_, short_look_s);
      const disc::Analysis analysis = analyse_eye(context, signal_, *look.waveform);
      if (is_locked(analysis)) co_return analysis;
      co_await see(context, step, sight, no_eye_in_words(analysis));
      co_await pause(context, no_eye_pause_s);
    }
  }

  task<> by_position(RunContext& context, const Step& step, double look_s) const {
    AudioWatch watch;
    Sight sight;
    for (;;) {
      const disc::Analysis seen_before = co_await eye(context, step, sight);
      const Acquired look = co_await acquire(context, signal_, look_s, {}, rate_for(context, seen_before));
      disc::AnalysisOptions options;
      options.errors_wanted = false;
      options.a_c_coupled = context.is_ac_coupled(signal_.name);
      const auto [verdict, seen] = watch.look(disc::analyse(look.waveform->view(), options), look.from_s);
      co_await see(context, step, sight, seen);
      using enum AudioWatch::Verdict;
      if (verdict == playing) co_return;
      if (verdict == confirm) {
        co_await context.timeline().sleep_until(base::from_seconds(look.from_s + AudioWatch::confirm_s + long_look_s));
      } else {
        co_await pause(context, verdict == not_audio ? other_pause_s : no_eye_pause_s);
      }
    }
  }

  // Of a look for the position.
  double rate_for(RunContext& context, const disc::Analysis& eye) const {
    const double most_hz = rate_hz(context, signal_);
    return eye.speed ? std::min(most_hz, samples_per_bit * channel_rate_1x_hz * *eye.speed) : most_hz;
  }

  task<> by_word(RunContext& context, const Step& step, double points) const {
    Sight sight;
    for (;;) {
      co_await settled(context, step, sight);
      if (co_await confirmed(context, step)) break;
      co_await see(context, step, sight, "the operator says that no audio track is playing");
      co_await pause(context, other_pause_s);
    }
    context.tell(event::Noted{
        step.place,
        fmt::format("the memory of {} ({}) holds no block of the Q channel ({} needed): a locked, settled eye in {} "
                    "captures and "
                    "the operator's word stand for the audio track",
                    signal_.role, quantity::print({points, quantity::samples}),
                    quantity::print({block_s * rate_hz(context, signal_), quantity::samples}, 3), settled_looks)});
  }

  task<> settled(RunContext& context, const Step& step, Sight& sight) const {
    std::vector<double> ratios;
    while (ratios.size() < settled_looks) {
      const disc::Analysis analysis = co_await eye(context, step, sight);
      co_await see(context, step, sight, "an eye");
      if (!ratios.empty() && analysis.i3_over_i11 &&
          std::abs(*analysis.i3_over_i11 / ratios.front() - 1) > ratio_spread)
        ratios.clear();
      if (analysis.i3_over_i11) ratios.push_back(*analysis.i3_over_i11);
      co_await pause(context, no_eye_pause_s);
    }
  }

  task<bool> confirmed(RunContext& context, const Step& step) const {
    const std::string text = "Confirm that the player is playing an audio track";
    context.tell(event::Prompted{step.place, text, base::to_seconds(context.call_limit(base::Duration::max()))});
    co_await context.announce();
    context.progress() = "last seen: an eye; nobody has confirmed that an audio track is playing";
    const bench::Answer answer = co_await context.ask({.text = text});
    context.tell(event::Answered{step.place, answer.text, answer.by});
    co_return answer.text != "no";
  }

  SignalPlace signal_;
};

const std::vector<std::string> what_can_be_awaited = {"audio track"};

ReadStep read(StepReader& reader) {
  const auto what = reader.text("wait for");
  if (what && *what != what_can_be_awaited.front()) {
    const auto near = yaml::nearest(*what, what_can_be_awaited);
    reader.report(
        "wait for", fmt::format("'{}' cannot be waited for", *what),
        near ? fmt::format("did you mean '{}'?", *near) : fmt::format("write {}", yaml::one_of(what_can_be_awaited)));
  }
  const SignalPlace* signal = reader.ready_signal("seen in", "oscilloscope");
  if (!reader.ok() || !signal) return {};
  return {wait_for_audio_action(*signal), {}, {}};
}

}  // namespace

std::shared_ptr<const Action> wait_for_audio_action(SignalPlace signal) {
  return std::make_shared<WaitForAudio>(std::move(signal));
}

void register_wait_for(Verbs& verbs) {
  registers::Declaration wait{.name = "wait for",
                              .about = "wait until the player really plays an audio track",
                              .parameters = {.name = "wait for", .about = "a wait", .keys = {}},
                              .example = "- wait for: audio track\n  seen in: rf\n  within: 45 s\n",
                              .sentence = "Wait until an <wait for> is seen in <seen in>"};
  wait.parameters.keys = {{.name = "wait for",
                           .required = true,
                           .type = yaml::Type::text,
                           .help = "what is awaited",
                           .example = "audio track"},
                          {.name = "seen in",
                           .required = true,
                           .type = yaml::Type::text,
                           .help = "the signal that shows it",
                           .example = "rf"},
                          within_key(true),
                          try_again_key(),
                          otherwise_key()};
  verbs.add(std::move(wait), read);
}

}  // namespace eyelevel::sequence
