// SPDX-License-Identifier: Apache-2.0
#include "core/report/sheet_content.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "core/base/error.hpp"
#include "core/disc/analysis.hpp"
#include "core/signal/converter_step.hpp"

namespace eyelevel::report {

using record::CaptureInfo;
using record::RunRecord;

namespace {

bool has_captures(const RunRecord& run, const std::string& name) {
  return std::any_of(run.captures.begin(), run.captures.end(), [&](const CaptureInfo& c) { return c.name == name; });
}

std::string captures_to_show(const RunRecord& run) {
  for (const bool judged : {true, false}) {
    for (const auto& reading : run.readings) {
      if (judged && !reading.judgement) continue;
      for (const std::string& input : reading.inputs) {
        if (has_captures(run, input)) return input;
      }
    }
  }
  return run.captures.empty() ? std::string() : run.captures.front().name;
}

class Mean {
 public:
  void push(const std::optional<double>& x) {
    if (!x) return;
    sum_ += *x;
    ++count_;
  }
  std::optional<double> result() const { return count_ > 0 ? std::optional(sum_ / count_) : std::nullopt; }

 private:
  double sum_ = 0;
  int count_ = 0;
};

struct Eye {  // one capture that goes into the picture
  std::int64_t event_number = 0;
  std::optional<EyeClock> clock;
};

class Gatherer {
 public:
  Gatherer(record::Store& store, RunRecord run, std::string eye_of) : store_(store) {
    content_.run = std::move(run);
    content_.eye_of = eye_of.empty() ? captures_to_show(content_.run) : std::move(eye_of);
  }

  SheetContent gather() {
    for (const CaptureInfo& capture : content_.run.captures) look_at(capture);
    if (!eyes_.empty()) fold();
    return std::move(content_);
  }

 private:
  std::shared_ptr<const signal::Waveform> samples(std::int64_t event_number) {
    try {
      return store_.capture(content_.run.summary.id, event_number);
    } catch (const base::Error& error) {
      if (error.record().code != base::ErrorCode::not_found) throw;
      return nullptr;  // this capture left no samples
    }
  }

  void look_at(const CaptureInfo& capture) {
    CaptureLevel level{capture.time_s, capture.name, capture.not_kept.empty(), std::nullopt};
    if (const auto* thinned = content_.run.thinned(capture.event_number)) {
      level.time_s = thinned->time_s;
      level.level_v = thinned->level_v;
      content_.levels.push_back(std::move(level));
      return;
    }
    const auto waveform = samples(capture.event_number);
    if (waveform && waveform->size() > 0) {
      // A step tells of its captures together; when each was taken, the waveform knows.
      if (waveform->start_s > 0) level.time_s = waveform->start_s;
      disc::AnalysisOptions options;
      options.subcode_wanted = false;
      options.errors_wanted = false;
      const auto analysis = disc::analyse(waveform->view(), options);
      level.level_v = analysis.level.peak_to_peak_v;
      if (level.kept && capture.name == content_.eye_of) add_eye(capture, *waveform, analysis);
    }
    content_.levels.push_back(std::move(level));
  }

  void add_eye(const CaptureInfo& capture, const signal::Waveform& waveform, const disc::Analysis& analysis) {
    Eye eye{capture.event_number, std::nullopt};
    const auto& level = analysis.level;
    if (analysis.has_eye && analysis.channel_rate_hz && level.top_v && level.bottom_v) {
      eye.clock = {*analysis.channel_rate_hz, analysis.slice_v.value_or((*level.top_v + *level.bottom_v) / 2)};
      rate_.push(analysis.channel_rate_hz);
      top_.push(level.top_v), bottom_.push(level.bottom_v), i3_.push(level.i3_v), asymmetry_.push(analysis.asymmetry);
    }
    const auto view = waveform.view();
    for (std::size_t i = 0; i < view.size(); ++i) {
      const double v = view.volts(i);
      if (std::isfinite(v)) low_v_ = std::min(low_v_, v), high_v_ = std::max(high_v_, v);
    }
    step_v_ = std::max(step_v_, signal::converter_step_v(view));
    eyes_.push_back(eye);
  }

  void fold() {
    if (!(high_v_ >= low_v_)) return;
    const double step = step_v_ > 0 ? step_v_ : std::max((high_v_ - low_v_) / 256, 1e-6);
    const double margin = std::ceil(0.06 * (high_v_ - low_v_) / step + 1) * step;
    EyeFolder folder(low_v_ - step / 2 - margin, high_v_ + step / 2 + margin, step);
    for (const Eye& eye : eyes_) {
      const auto waveform = samples(eye.event_number);
      if (eye.clock) {
        folder.push(waveform->view(), *eye.clock);
      } else {
        folder.push(waveform->view());
      }
    }
    content_.eye = folder.result();
    if (const auto rate = rate_.result()) content_.channel_bit_s = 1 / *rate;
    const auto top = top_.result(), bottom = bottom_.result(), i3 = i3_.result();
    if (!top || !bottom) return;
    EyeLevels& levels = content_.eye_levels.emplace();
    levels.top_v = *top;
    levels.bottom_v = *bottom;
    if (i3) {
      // ECMA-130 12.3: the 3T centre lies below the 11T centre by the asymmetry times I11, towards less light.
      const double centre = (*top + *bottom) / 2 - asymmetry_.result().value_or(0) * (*top - *bottom);
      levels.i3_low_v = centre - std::abs(*i3) / 2;
      levels.i3_high_v = centre + std::abs(*i3) / 2;
    }
  }

  record::Store& store_;
  SheetContent content_;
  std::vector<Eye> eyes_;
  Mean rate_, top_, bottom_, i3_, asymmetry_;
  double low_v_ = HUGE_VAL, high_v_ = -HUGE_VAL, step_v_ = 0;
};

}  // namespace

SheetContent gather_sheet(record::Store& store, RunRecord run, const std::string& eye_of) {
  return Gatherer(store, std::move(run), eye_of).gather();
}

}  // namespace eyelevel::report
