// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/adjusting.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/base/deadline.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/metrology/judge.hpp"
#include "core/quantity/text.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/sequence/verb/ask_again.hpp"
#include "core/sequence/verb/audio_watch.hpp"
#include "core/signal/histogram.hpp"

namespace eyelevel::sequence {

namespace {

using metrology::Reading;
using std::chrono::seconds;

// How sure a model sheet is of the sense: sheets are wrong, units were repaired (practice value).
constexpr double sheet_is_right = 0.95;

// Spinning up, contents and track take 4 to 12 s on a healthy player (practice value).
constexpr base::Duration audio_within = seconds(45);
constexpr int asked_most = 4;

// A pad without light: no eye, and its voltage rests within a share of the level, in so many looks in a row.
constexpr double look_s = 500e-6;
constexpr double look_pause_s = 0.3;
constexpr int looks_most = 20;
constexpr int dark_looks = 3;
constexpr double rest_share = 0.05;

guide::TrimmerPrior prior(const RunContext& context, const AdjustSetting& setting) {
  guide::TrimmerPrior prior;
  prior.scale = (*setting.limit.limit.at_least + *setting.limit.limit.at_most) / 2;
  const bench::ModelSheet* sheet = context.model();
  if (!sheet || !sheet->trimmer) return prior;
  if (sheet->trimmer->sense == bench::TrimmerSense::clockwise_raises) prior.clockwise_raises = sheet_is_right;
  if (sheet->trimmer->sense == bench::TrimmerSense::clockwise_lowers) prior.clockwise_raises = 1 - sheet_is_right;
  return prior;
}

// What scatters from one reading to the next is of type A; the rest is the same in all of them.
guide::Standing standing(const Reading& reading) {
  double squares = 0;
  for (const metrology::Contribution& c : reading.contributions)
    if (c.type == 'A') squares += c.effect * c.effect;
  return {reading.value, std::sqrt(squares), reading.interval.expanded_uncertainty};
}

base::Error in_vain(std::string message, std::string advice) {
  base::ErrorRecord record;
  record.code = base::ErrorCode::wait_ran_out;
  record.message = std::move(message);
  record.advice = std::move(advice);
  return base::Error(record);
}

}  // namespace

Adjusting::Adjusting(RunContext& context, const Step& step, const AdjustSetting& setting)
    : context_(context),
      step_(step),
      setting_(setting),
      guide_({*setting.limit.limit.at_least, *setting.limit.limit.at_most, setting.ceiling, "V"},
             prior(context, setting)) {}

task<Reading> Adjusting::all() {
  context_.tell(event::Aimed{step_.place, setting_.watched, "V", *setting_.limit.limit.at_least,
                             *setting_.limit.limit.at_most, setting_.ceiling});
  if (!context_.model())
    context_.tell(event::Noted{step_.place, "no model sheet: nobody knows which way raises the level"});
  Reading now = co_await measured();
  while (metrology::judge(now.value, now.interval.expanded_uncertainty, setting_.limit.limit) !=
         metrology::Judgement::pass) {
    if (is_above(now))
      co_await until_dark(fmt::format("The level is {:.3g} V, above the ceiling of {:.3g} V. Switch the player off now",
                                      now.value, setting_.ceiling));
    if (guide_.turns() == setting_.turns_most) {
      tell({"not within limits after all turns",
            fmt::format("{} turns brought it to {:.3g} V", guide_.turns(), now.value)});
      co_return now;
    }
    const guide::Advice advice = guide_.advise(standing(now));
    if (advice.stop) {
      tell(*advice.stop);
      co_return now;
    }
    co_await turn(advice, now);
    Reading next = co_await measured();
    guide_.turned(advice.clockwise_deg, standing(now), standing(next));
    now = std::move(next);
  }
  context_.tell(event::Noted{
      step_.place, fmt::format("within limits after {} turn{}", guide_.turns(), guide_.turns() == 1 ? "" : "s")});
  co_return now;
}

void Adjusting::tell(const guide::Stop& stop) { context_.tell(event::Found{step_.place, stop.cause, stop.because}); }

task<> Adjusting::turn(const guide::Advice& advice, const Reading& now) {
  context_.tell(event::Advised{.place = step_.place,
                               .turn = guide_.turns() + 1,
                               .clockwise_deg = advice.clockwise_deg,
                               .words = advice.words,
                               .belief = advice.belief,
                               .from = now.value,
                               .from_uncertainty = now.interval.expanded_uncertainty,
                               .expected = advice.predicted.expected,
                               .low = advice.predicted.low,
                               .high = advice.predicted.high,
                               .last_did_nothing = advice.last_did_nothing});
  if (!is_off_) co_await until_dark("Switch the player off");
  co_await ask(fmt::format("Turn the laser trimmer {}, with an insulated driver", advice.words));
}

// An audio track that plays, a series of captures, the reading of it.
task<Reading> Adjusting::measured() {
  co_await playing();
  Step series = inner(*step_.within);
  series.name_it = fmt::format("{}, turn {}", setting_.watched, guide_.turns() + (is_off_ ? 1 : 0));
  is_off_ = false;
  context_.keep(series.name_it, co_await setting_.capture->run(context_, series));
  MeasureSetting of;
  of.operand = series.name_it;
  Reading reading = co_await setting_.measure.run(context_, series, of);
  context_.tell(event::Seen{step_.place, fmt::format("{} is {:.4g} V ± {:.2g} V", setting_.watched, reading.value,
                                                     reading.interval.expanded_uncertainty)});
  co_return reading;
}

task<> Adjusting::playing() {
  const Step waiting = inner(audio_within);
  if (is_off_) co_await ask(setting_.to_play);
  for (int asked = 1; asked <= asked_most; ++asked) {
    if (co_await base::result_within(context_.timeline(), audio_within, setting_.wait->run(context_, waiting)))
      co_return;
    context_.tell(event::Noted{step_.place, "no audio track was seen; " + context_.progress()});
    if (asked < asked_most) co_await ask(setting_.to_play);
  }
  throw in_vain(fmt::format("no audio track was seen, asked for {} times; {}", asked_most, context_.progress()),
                "does the player still recognise the disc? if not, turn the trimmer back as far as it was turned last");
}

// Asks, and looks at the pad whether it was done.
task<> Adjusting::until_dark(std::string text) {
  for (int asked = 0; asked < asked_most; ++asked) {
    co_await ask(asked == 0 ? text : "The pad still shows light. " + text);
    is_off_ = co_await is_dark();
    context_.tell(event::Seen{step_.place, is_off_ ? "no light: the player is off" : "the pad still shows light"});
    if (is_off_) co_return;
  }
  throw in_vain(
      fmt::format("the pad still shows light, although the player was to be switched off {} times", asked_most),
      "pull its plug; never turn the trimmer while the player is on");
}

task<bool> Adjusting::is_dark() {
  const double rest_v = rest_share * *setting_.limit.limit.at_least;
  int dark = 0;
  for (int look = 0; look < looks_most; ++look) {
    const Acquired got = co_await acquire(context_, setting_.signal, look_s);
    const bool has_light = is_locked(analyse_eye(context_, setting_.signal, *got.waveform)) ||
                           signal::summarise(got.waveform->view()).sd_v > rest_v;
    dark = has_light ? 0 : dark + 1;
    if (dark == dark_looks) co_return true;
    co_await context_.timeline().sleep(base::from_seconds(look_pause_s * context_.random().uniform(0.8, 1.2)));
  }
  co_return false;
}

task<> Adjusting::ask(std::string text) {
  static constexpr AskWords words{"answered", "see that the operator knows what is asked"};
  const std::function<std::string(bench::Answer)> use = [this](const bench::Answer& answer) -> std::string {
    context_.tell(event::Answered{step_.place, answer.text, answer.by});
    return {};
  };
  co_await ask_again(context_, step_, {.text = std::move(text)}, words, use);
}

// What other verbs' actions are run with: this step's place, its own bound.
Step Adjusting::inner(base::Duration within) const {
  Step step;
  step.place = step_.place;
  step.within = within;
  step.names = step_.names;
  return step;
}

}  // namespace eyelevel::sequence
