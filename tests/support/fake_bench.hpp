// SPDX-License-Identifier: Apache-2.0
// Instruments, operator and journal that answer from memory in simulated time: for tests of what runs on a bench. Every
// call counts and takes its time; the n-th can be made to fail. The eye comes from eye_renderer.hpp with a known level.
#pragma once

#include <cmath>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/bench/kind/multimeter.hpp"
#include "core/bench/kind/oscilloscope.hpp"
#include "core/bench/operator.hpp"
#include "core/event/event.hpp"
#include "tests/support/eye_renderer.hpp"

namespace eyelevel::test {

// What the unit does at a time.
struct FakeUnit {
  std::function<bool(double)> has_eye = [](double) { return true; };
  std::function<double(double)> level_v = [](double) { return 1.2; };  // settled levels, high minus low
  std::function<double(double)> blur_t = [](double) { return 1.25; };  // a larger one lowers I3 more than I11
  double middle_v = 1.6;
  int control = 0;         // of the Q channel; 4: a data track
  bool is_paused = false;  // the same second for ever
  double noise_v = 0.006;
};

// Counts the calls of all instruments; the one numbered fail_at (from 1) throws, and fail_more that follow it.
struct FakeCalls {
  int made = 0;
  int fail_at = 0;
  int fail_more = 0;
  base::ErrorCode fail_with = base::ErrorCode::time_out;
  base::Duration each = std::chrono::milliseconds(5);
  std::vector<std::string> names;

  task<> call(base::Timeline& timeline, std::string name) {
    const int number = ++made;
    names.push_back(std::move(name));
    co_await timeline.sleep(each);
    if (fail_at > 0 && number >= fail_at && number <= fail_at + fail_more)
      throw base::Error(fail_with, "no answer within 1 s", "is it on?");
  }
};

inline support::Eye rendered_eye(double duration_s, double start_s, double blur_t, int control, std::uint64_t seed) {
  support::EyeSettings s;
  s.duration_s = duration_s;
  s.start_bit = 1000 + start_s * s.channel_rate_hz;
  s.blur_t = blur_t;
  s.control = control;
  s.seed = seed;
  s.noise_v = 0;
  return support::render(s);
}

// Remembers short records, since rendering costs more than everything else in these tests.
inline const support::Eye& short_eye(double duration_s, double blur_t, int control, std::uint64_t seed) {
  using Key = std::tuple<double, double, int, std::uint64_t>;
  static std::map<Key, support::Eye> known;
  const Key key{duration_s, blur_t, control, seed};
  if (const auto it = known.find(key); it != known.end()) return it->second;
  return known.emplace(key, rendered_eye(duration_s, 0, blur_t, control, seed)).first->second;
}

class FakeScope : public bench::Oscilloscope {
 public:
  FakeScope(base::Timeline& timeline, FakeCalls& calls, FakeUnit& unit)
      : timeline_(timeline), calls_(calls), unit_(unit) {}

  std::int64_t points_max = 1'000'000;
  double rate_hz_max = 100e6;
  double gain = 1;  // what its error makes of a voltage
  std::function<std::string()> identity = [] { return "Fake,Scope,SN 12,1.0"; };
  bool* made_safe = nullptr;
  bool* closed = nullptr;

  task<std::string> greet(base::Duration) override {
    co_await calls_.call(timeline_, "greet scope");
    co_return identity();
  }
  task<> make_safe(base::Duration) override {
    co_await calls_.call(timeline_, "make scope safe");
    if (made_safe) *made_safe = true;
  }
  std::optional<int> tests_itself = 0;
  std::optional<bench::Coupling> refuses_coupling;  // stays at this one
  // What a capture holds instead of an eye: volts by time.
  std::function<double(double)> volts;
  task<std::optional<int>> self_test(base::Duration) override {
    co_await calls_.call(timeline_, "self-test of scope");
    co_return tests_itself;
  }
  void close() noexcept override {
    if (closed) *closed = true;
  }
  task<bench::OscilloscopeAbility> ability(base::Duration) override {
    co_await calls_.call(timeline_, "ability");
    co_return bench::OscilloscopeAbility{2, rate_hz_max, points_max};
  }
  task<std::vector<bench::SettingTaken>> set_up(int, const bench::ChannelSetting& setting, base::Duration) override {
    co_await calls_.call(timeline_, "set up scope");
    if (refuses_coupling && setting.coupling != *refuses_coupling)
      throw base::Error(base::ErrorCode::setting_not_taken, "coupling: asked a.c., the instrument says d.c.", "");
    screen_ = {setting.low_v, setting.high_v};
    co_return std::vector<bench::SettingTaken>{{"probe factor", "10", "10"}};
  }
  task<signal::Waveform> capture(const bench::Acquisition& a, base::Duration) override {
    const double start_s = base::to_seconds(timeline_.now());
    co_await calls_.call(timeline_, "capture");
    if (volts) co_return drawn(a, start_s);
    if (!unit_.has_eye(start_s)) co_return flat(a, start_s);
    const double blur_t = unit_.blur_t(start_s);
    const std::uint64_t seed = 1 + count_++ % 8;
    // Only a long record holds a position on the disc.
    support::Eye scaled = a.duration_s < 0.01
                              ? short_eye(a.duration_s, blur_t, unit_.control, seed)
                              : rendered_eye(a.duration_s, unit_.is_paused ? 0 : start_s, blur_t, unit_.control, seed);
    base::Random noise(static_cast<std::uint64_t>(count_), "noise");
    // A record shorter than a frame may hold no 11T run to scale by: then the light's own levels.
    const support::EyeSettings usual;
    const bool has_truth = std::isfinite(scaled.truth.i11_v);
    const double top_v = has_truth ? scaled.truth.top_v : usual.top_v;
    const double bottom_v = has_truth ? scaled.truth.bottom_v : usual.bottom_v;
    const double factor = unit_.level_v(start_s) / (top_v - bottom_v);
    const double middle = (top_v + bottom_v) / 2;
    for (float& v : scaled.volts)
      v = static_cast<float>(gain * (unit_.middle_v + factor * (static_cast<double>(v) - middle)) +
                             noise.normal(0, unit_.noise_v));
    signal::Waveform wave = scaled.on_screen(screen_.low_v, screen_.high_v);
    wave.screen = screen_;
    wave.start_s = start_s;
    co_return wave;
  }

 private:
  signal::Waveform drawn(const bench::Acquisition& a, double start_s) const {
    support::Eye eye;
    eye.rate_hz = a.rate_hz;
    eye.volts.resize(static_cast<std::size_t>(a.duration_s * a.rate_hz));
    for (std::size_t i = 0; i < eye.volts.size(); ++i)
      eye.volts[i] = static_cast<float>(volts((static_cast<double>(i) + 0.25) / a.rate_hz));
    signal::Waveform wave = eye.on_screen(screen_.low_v, screen_.high_v);
    wave.screen = screen_;
    wave.start_s = start_s;
    return wave;
  }
  signal::Waveform flat(const bench::Acquisition& a, double start_s) {
    support::Eye eye;
    eye.rate_hz = a.rate_hz;
    base::Random noise(static_cast<std::uint64_t>(++count_), "flat");
    eye.volts.resize(static_cast<std::size_t>(a.duration_s * a.rate_hz));
    for (float& v : eye.volts) v = static_cast<float>(unit_.middle_v + noise.normal(0, unit_.noise_v));
    signal::Waveform wave = eye.on_screen(screen_.low_v, screen_.high_v);
    wave.screen = screen_;
    wave.start_s = start_s;
    return wave;
  }

  base::Timeline& timeline_;
  FakeCalls& calls_;
  FakeUnit& unit_;
  signal::Screen screen_{0, 3};
  std::uint64_t count_ = 0;
};

class FakeMeter : public bench::Multimeter {
 public:
  FakeMeter(base::Timeline& timeline, FakeCalls& calls, std::function<double(double)> volts)
      : timeline_(timeline), calls_(calls), volts_(std::move(volts)) {}

  bool* made_safe = nullptr;

  task<std::string> greet(base::Duration) override {
    co_await calls_.call(timeline_, "greet meter");
    co_return "Fake,Meter,SN 7,1.0";
  }
  task<> make_safe(base::Duration) override {
    co_await calls_.call(timeline_, "make meter safe");
    if (made_safe) *made_safe = true;
  }
  void close() noexcept override {}
  task<std::optional<int>> self_test(base::Duration) override {
    co_await calls_.call(timeline_, "self-test of meter");
    co_return std::optional<int>();
  }
  task<std::vector<bench::SettingTaken>> set_up_dc(const bench::DcSetting& setting, base::Duration) override {
    co_await calls_.call(timeline_, "set up meter");
    aperture_s_ = setting.aperture_s;
    co_return std::vector<bench::SettingTaken>{{"range", "5 V", "10 V"}};
  }
  task<double> read_dc(base::Duration) override {
    const double t = base::to_seconds(timeline_.now());
    co_await calls_.call(timeline_, "read d.c.");
    co_await timeline_.sleep(base::from_seconds(aperture_s_));
    co_return volts_(t);
  }

 private:
  base::Timeline& timeline_;
  FakeCalls& calls_;
  std::function<double(double)> volts_;
  double aperture_s_ = 0;
};

class FakeOperator : public bench::Operator {
 public:
  explicit FakeOperator(base::Timeline& timeline) : timeline_(timeline) {}

  bool is_there = true;
  std::string says = "done";
  std::vector<std::string> asked;
  std::vector<bench::Question> questions;
  std::shared_ptr<const std::string> content;  // of a file
  std::function<void(const std::string&)> does = [](const std::string&) {};

  task<bench::Answer> ask(const bench::Question& question) override {
    const std::string& text = question.text;
    asked.push_back(text);
    questions.push_back(question);
    co_await timeline_.sleep(is_there ? base::Duration(std::chrono::seconds(3))
                                      : base::Duration(std::chrono::hours(24)));
    does(text);
    co_return bench::Answer{says, "the fake operator", content, content ? "" : "there is no such file"};
  }

 private:
  base::Timeline& timeline_;
};

class MemoryJournal : public event::Journal {
 public:
  std::vector<event::Event> events;
  std::size_t committed = 0;
  int commits = 0;
  std::size_t fail_at = 0;  // the append numbered so (from 1) throws; 0: none

  task<> append(const event::Event& event) override {
    if (fail_at != 0 && events.size() + 1 >= fail_at)
      throw base::Error(base::ErrorCode::not_recording, "the disk is full", "free some space");
    events.push_back(event);
    co_return;
  }
  task<> commit() override {
    committed = events.size();
    ++commits;
    co_return;
  }

  template <class Body>
  std::vector<Body> of() const {
    std::vector<Body> all;
    for (const event::Event& e : events)
      if (const auto* body = std::get_if<Body>(&e.body)) all.push_back(*body);
    return all;
  }
};

// Sees that nothing is told before it is committed.
class CarefulListener : public event::Listener {
 public:
  explicit CarefulListener(const MemoryJournal& journal) : journal_(journal) {}
  std::vector<event::Event> told_events;
  bool was_early = false;

  void told(const event::Event& event) override {
    told_events.push_back(event);
    was_early = was_early || told_events.size() > journal_.committed;
  }

 private:
  const MemoryJournal& journal_;
};

}  // namespace eyelevel::test
