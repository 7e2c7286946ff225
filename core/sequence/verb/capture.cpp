// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/capture.hpp"

#include <fmt/format.h>

#include <cmath>

#include "core/quantity/text.hpp"
#include "core/sequence/language/phrase.hpp"
#include "core/sequence/verb/acquire.hpp"
#include "core/sequence/verb/settling.hpp"
#include "core/signal/converter_step.hpp"

namespace eyelevel::sequence {

namespace {

// Spacing: exponentially distributed, so that captures fall at random moments of the turn. Then each is an independent
// draw from all that the trace does in the span (once-around, warming up), the scatter over the root of their number is
// the honest uncertainty of the mean, and no multiple of the turn can hide the once-around. On average 25 a second or
// more, over three turns of the slowest disc (0.84 s) or more.
constexpr double spacing_s = 0.030;
constexpr double three_turns_s = 0.9;
// An instrument that needs longer than the spacing for one capture would set the moments itself, evenly, and a multiple
// of the turn might do what was to be excluded: then a pause of up to one turn of the slowest disc after each capture
// (198 a minute: 58 mm from the middle at 1.2 m/s, the least that ECMA-130 allows) makes the next moment any of the
// turn.
constexpr double slowest_turn_s = 0.3;

// A series under way. What was tried is seen at once by whoever watches, and told when the series ends, however it
// ends: only then is it known which are kept.
class Series {
 public:
  Series(RunContext& context, const Step& step, const CaptureSetting& setting)
      : context_(context), step_(step), setting_(setting) {}
  Series(const Series&) = delete;
  Series& operator=(const Series&) = delete;
  ~Series() {
    const auto reasons = settling_.reasons();
    for (std::size_t i = 0; i < events_.size(); ++i) {
      events_[i].not_kept = reasons[i];
      context_.tell(std::move(events_[i]));
    }
    if (too_many_rejected(counts(reasons))) context_.run_cannot_pass();
  }

  bool is_complete() const { return settling_.kept() >= setting_.keep; }
  bool may_try() const { return static_cast<long long>(events_.size()) < setting_.try_at_most; }

  task<> one_more() {
    const Acquired got = co_await acquire(context_, setting_.signal, setting_.each_s);
    captures_.push_back({got.from_s, got.until_s, analyse_eye(context_, setting_.signal, *got.waveform)});
    settling_.push(captures_.back().analysis);
    if (step_v_ == 0) step_v_ = signal::converter_step_v(got.waveform->view());
    const auto reasons = settling_.reasons();
    events_.push_back({.place = step_.place,
                       .name = step_.name_it.empty() ? setting_.signal.name : step_.name_it,
                       .signal = setting_.signal.name,
                       .index = static_cast<int>(captures_.size()),
                       .waveform = got.waveform,
                       .not_kept = std::string(reasons.back())});
    context_.glance(events_.back());
    const CaptureCounts now = counts(reasons);
    context_.progress() = fmt::format("{} of {} settled captures ({})", now.kept, setting_.keep, now.in_words());
  }

  CaptureSet result() {
    CaptureSet set;
    set.name = step_.name_it.empty() ? setting_.signal.name : step_.name_it;
    set.signal = setting_.signal;
    set.step_v = step_v_;
    const auto reasons = settling_.reasons();
    set.counts = counts(reasons);
    set.too_many_rejected = too_many_rejected(set.counts);
    for (std::size_t i = 0; i < captures_.size(); ++i)
      if (reasons[i].empty()) set.kept.push_back(std::move(captures_[i]));
    return set;
  }

 private:
  static CaptureCounts counts(const std::vector<std::string_view>& reasons) {
    const auto of = [&](std::string_view reason) { return std::count(reasons.begin(), reasons.end(), reason); };
    return {std::ssize(reasons), of(""), of("no lock"), of("focus"), of("clipped")};
  }
  bool too_many_rejected(const CaptureCounts& c) const {
    return static_cast<double>(c.tried - c.kept) > setting_.reject_at_most * static_cast<double>(c.tried);
  }

  RunContext& context_;
  const Step& step_;
  const CaptureSetting& setting_;
  Settling settling_;
  std::vector<KeptCapture> captures_;
  std::vector<event::Captured> events_;
  double step_v_ = 0;
};

class Capture final : public Action {
 public:
  explicit Capture(CaptureSetting setting) : setting_(std::move(setting)) {}

  task<Result> run(RunContext& context, const Step& step) const override {
    CaptureSet set = co_await series(context, step);
    if (set.counts.kept < setting_.keep) throw ran_out(set.counts);
    context.tell(event::Noted{step.place, set.counts.in_words()});
    if (set.too_many_rejected)
      context.tell(event::Noted{
          step.place, fmt::format("{} of {} captures were not kept, {} may be: nothing measured here can pass",
                                  set.counts.tried - set.counts.kept, set.counts.tried,
                                  quantity::print_percent(setting_.reject_at_most, 3))});
    co_return set;
  }
  double likely_s() const override {
    return std::max(three_turns_s, static_cast<double>(setting_.keep) * (setting_.each_s + spacing_s));
  }
  std::string advice_when_late() const override {
    return "is the disc still turning? does the level lie inside the screen? `within` may be too short for this "
           "instrument";
  }

 private:
  task<CaptureSet> series(RunContext& context, const Step& step) const {
    Series series(context, step, setting_);
    const double mean_s = std::max(spacing_s, three_turns_s / static_cast<double>(setting_.keep));
    base::Duration next = context.timeline().now();
    while (!series.is_complete() && series.may_try()) {
      if (next > context.timeline().now()) co_await context.timeline().sleep_until(next);
      const base::Duration begin = std::max(next, context.timeline().now());
      co_await series.one_more();
      const base::Duration end = context.timeline().now();
      const bool is_slow = base::to_seconds(end - begin) > mean_s;
      next = is_slow ? end + base::from_seconds(slowest_turn_s * context.random().uniform())
                     : begin + base::from_seconds(-mean_s * std::log(1 - context.random().uniform()));
    }
    co_return series.result();
  }

  base::Error ran_out(const CaptureCounts& counts) const {
    base::ErrorRecord record;
    record.code = base::ErrorCode::wait_ran_out;
    record.message =
        fmt::format("only {} of {} settled captures came about in {} tries ({}); nothing is judged from them",
                    counts.kept, setting_.keep, counts.tried, counts.in_words());
    record.advice = counts.clipped > counts.focus + counts.no_lock
                        ? "let `screen` show more volts above and below the signal"
                    : counts.focus > counts.no_lock ? "much bobbing is itself a fault: look at disc, spindle and focus"
                                                    : "does the disc play, or does it search or pause?";
    return base::Error(record);
  }

  CaptureSetting setting_;
};

// The record must fit into the memory that the sequence demands.
void check_memory(StepReader& reader, const CaptureSetting& setting) {
  const RoleNeed* need = reader.scope.sequence.role(setting.signal.role);
  if (!need || !need->points) return;
  const double points = setting.each_s * need->rate_hz.value_or(usual_rate_hz);
  if (points <= *need->points) return;
  reader.report(
      "each",
      fmt::format("{} at {} are {}, more than the memory of {} that {} needs",
                  quantity::print({setting.each_s, quantity::time}),
                  quantity::print({need->rate_hz.value_or(usual_rate_hz), quantity::sample_rate}),
                  quantity::print({points, quantity::samples}, 3), quantity::print({*need->points, quantity::samples}),
                  need->role),
      fmt::format("write at most `{} long`",
                  quantity::print({*need->points / need->rate_hz.value_or(usual_rate_hz), quantity::time}, 3)));
}

ReadStep read(StepReader& reader) {
  CaptureSetting setting;
  const SignalPlace* signal = reader.ready_signal("capture", "oscilloscope");
  const auto each_s = read_length_s(*reader.fields.node("each"), reader.mistakes());
  const auto keep = read_count(*reader.fields.node("keep"),
                               {.before = {}, .after = "settled", .least = 2, .most = 10000}, reader.mistakes());
  const auto try_at_most =
      read_count(*reader.fields.node("try"), {.before = "at most", .after = {}}, reader.mistakes());
  const auto reject = reader.fields.quantity("reject at most", quantity::ratio);
  if (reject && !(*reject >= 0 && *reject < 1))
    reader.report("reject at most", "a share of the captures lies from 0 % to below 100 %",
                  "write a share such as `33 %`");
  if (keep && try_at_most && *try_at_most < *keep)
    reader.report("try", fmt::format("{} tries cannot give {} captures", *try_at_most, *keep),
                  fmt::format("write `at most {}` or more", *keep));
  if (signal && each_s) {
    setting.signal = *signal;
    setting.each_s = *each_s;
    check_memory(reader, setting);
  }
  const Given given{NameKind::captures, {}, 0, signal ? signal->name : std::string()};
  if (!reader.ok()) return {{}, given, {}};
  setting.keep = *keep;
  setting.try_at_most = *try_at_most;
  setting.reject_at_most = reject.value_or(setting.reject_at_most);
  return {capture_action(std::move(setting)), given, {}};
}

}  // namespace

std::shared_ptr<const Action> capture_action(CaptureSetting setting) {
  return std::make_shared<Capture>(std::move(setting));
}

void register_capture(Verbs& verbs) {
  using yaml::Type;
  registers::Declaration capture{.name = "capture",
                                 .about = "take waveforms until enough settled ones are kept",
                                 .parameters = {.name = "capture", .about = "a series of captures", .keys = {}},
                                 .example =
                                     "- capture: rf\n  each: 500 us long\n  keep: 64 settled\n  try: at most 200\n  "
                                     "within: 60 s\n  name it: pressed\n",
                                 .sentence = "Capture <keep> waveforms of <capture>, each <each>, trying <try>"};
  capture.parameters.keys = {
      {.name = "capture", .required = true, .type = Type::text, .help = "the signal", .example = "rf"},
      {.name = "each", .required = true, .type = Type::own, .help = "length of one capture", .example = "500 us long"},
      {.name = "keep",
       .required = true,
       .type = Type::own,
       .help = "how many to keep; settled: clock locked, not clipped, I3/I11 like that of the others",
       .example = "64 settled"},
      {.name = "try",
       .required = true,
       .type = Type::own,
       .help = "how many to take for that",
       .example = "at most 200"},
      {.name = "reject at most",
       .type = Type::quantity,
       .dimension = quantity::ratio,
       .help = "when a larger share is not kept, nothing measured from it can pass (usual: a third)",
       .example = "33 %"},
      within_key(true),
      name_it_key(),
      try_again_key(),
      otherwise_key()};
  verbs.add(std::move(capture), read);
}

}  // namespace eyelevel::sequence
