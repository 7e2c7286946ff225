// SPDX-License-Identifier: Apache-2.0
// Outside truth: the stored waveforms of tests/data/waveforms, rendered apart from this project. Tolerances are those
// of judge.py beside them (README.md there) unless said. Sweeps use tests/support/eye_renderer.hpp, truth in closed
// form.
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <string>

#include "core/base/random.hpp"
#include "core/disc/analysis.hpp"
#include "core/disc/subcode/q.hpp"
#include "tests/support/eye_renderer.hpp"
#include "tests/support/stored_eyes.hpp"

using namespace eyelevel;
using namespace eyelevel::disc;
using support::EyeSettings;
using support::StoredEye;

namespace {

const char* const eyes[] = {"pressed-audio",   "recordable-audio", "rewritable-data",  "double-speed",
                            "damaged-symbols", "lead-in",          "pause-ac-coupled", "short-capture"};

bool has_flag(const StoredEye& eye, const char* flag) {
  const auto& flags = eye.document.at("flags").as_array();
  return std::any_of(flags.begin(), flags.end(), [&](const auto& f) { return f.as_string() == flag; });
}

bool warns_of(const Analysis& a, const std::string& word) {
  return std::any_of(a.warnings.begin(), a.warnings.end(),
                     [&](const std::string& w) { return w.find(word) != std::string::npos; });
}

void check_refused(const Analysis& a) {
  CHECK_FALSE(a.has_eye);
  CHECK_FALSE(a.level.peak_to_peak_v);
  CHECK_FALSE(a.level.i3_v);
  CHECK_FALSE(a.asymmetry);
  CHECK_FALSE(a.jitter_all_ns);
  CHECK_FALSE(a.bler_per_s);
  CHECK(a.subcode.empty());
  CHECK_FALSE(a.c1);
  CHECK(a.content == Content::unknown);
  CHECK_FALSE(a.warnings.empty());
}

// 30 ms of samples at 20 MS/s from a function of the sample number.
template <class Function>
signal::Waveform made_of(Function value) {
  signal::Waveform wave;
  wave.rate_hz = 20e6;
  std::vector<float> volts;
  for (int i = 0; i < 600000; ++i) volts.push_back(static_cast<float>(value(i)));
  wave.codes = std::move(volts);
  return wave;
}

std::string time_or_none(const std::optional<MinSecFrame>& time) { return time ? subcode::print(*time) : "none"; }

}  // namespace

TEST_CASE("analysis: levels of every stored eye are those it was rendered with", "[disc]") {
  for (const std::string name : eyes) {
    const StoredEye eye = support::stored_eye(name);
    const Analysis a = analyse(eye.wave.view(), eye.options());
    INFO(name);
    REQUIRE(a.has_eye);
    REQUIRE(a.level.i11_v);
    const double i11 = eye.number("i11_v");
    // The uncertainty budget of a reading is about 1 %; the method may take a tenth of it (0.15 % where three runs must
    // do).
    const double bias = name == "short-capture" ? 0.0015 : 0.001;
    CHECK(*a.level.i11_v == Approx(i11).margin(bias * i11));
    CHECK(a.level.peak_to_peak_v == a.level.i11_v);
    CHECK(*a.level.i3_v == Approx(eye.number("i3_v")).margin(0.002 * i11));
    CHECK(*a.level.top_v == Approx(eye.number("top_v")).margin(0.001 * i11));
    CHECK(*a.level.bottom_v == Approx(eye.number("bottom_v")).margin(0.001 * i11));
    CHECK(*a.level.mean_v == Approx(eye.number("mean_v")).margin(0.0005 * i11));
    CHECK(*a.asymmetry == Approx(eye.number("asymmetry")).margin(0.001));
    CHECK(*a.beta == Approx(eye.number("beta")).margin(0.002));
    CHECK(*a.i3_over_i11 == Approx(eye.number("i3_over_i11")).margin(0.002));
    CHECK(*a.level_noise_v == Approx(eye.number("noise_v")).epsilon(0.15));  // with a third of a code of rounding
    CHECK(*a.level_standard_error_v < 0.002 * i11);
    if (has_flag(eye, "ac")) {
      CHECK_FALSE(a.i11_over_top);
    } else {
      CHECK(*a.i11_over_top == Approx(eye.number("i11_over_top")).margin(0.002));
      CHECK(*a.slice_v == Approx(eye.number("slice_v")).margin(0.001 * i11));
    }
    CHECK_FALSE(a.disturbed);
  }
}

TEST_CASE("analysis: jitter of every stored eye is that of lengths, with or without the noise", "[disc]") {
  for (const std::string name : eyes) {
    const StoredEye eye = support::stored_eye(name);
    const Analysis a = analyse(eye.wave.view(), eye.options());
    const auto& noisy = eye.truth().at("jitter_ns").as_object();
    const auto& clean = eye.truth().at("jitter_clean_ns").as_object();
    const auto& runs = eye.truth().at("runs").as_object();
    const double least = eye.tolerance("jitter_ns", 1.0), part = eye.tolerance("jitter", 0.10);
    for (int n = 3; n <= 11; ++n) {
      const std::string group = std::to_string(n) + "T";
      const auto index = static_cast<std::size_t>(n);
      INFO(name << " " << group);
      const auto& count = runs.at(group).as_array();
      const auto expected = count.at(0).to_number<std::int64_t>() + count.at(1).to_number<std::int64_t>();
      CHECK(std::abs(a.runs[index] - expected) <= 3);
      if (expected < 100) continue;  // too few for a standard deviation to be held to 10 %
      const double high = noisy.at(group).to_number<double>(), low = clean.at(group).to_number<double>();
      const double tolerance = std::max(part * high, least);
      REQUIRE(a.jitter_ns[index]);
      CHECK(*a.jitter_ns[index] > low - tolerance);
      CHECK(*a.jitter_ns[index] < high + tolerance);
    }
    CHECK(*a.jitter_all_ns == Approx(noisy.at("all").to_number<double>()).margin(least));
  }
}

TEST_CASE("analysis: clock, frames and C1 counts of every stored eye are exact", "[disc]") {
  for (const std::string name : eyes) {
    const StoredEye eye = support::stored_eye(name);
    const Analysis a = analyse(eye.wave.view(), eye.options());
    INFO(name);
    CHECK(*a.speed == eye.number("speed"));
    CHECK(*a.channel_rate_hz == Approx(eye.number("channel_rate_hz")).epsilon(20e-6));
    CHECK(a.frames == static_cast<std::int64_t>(eye.number("frames")));
    CHECK(a.sync_lost == 0);
    const auto& c1 = eye.truth().at("c1").as_object();
    REQUIRE(a.c1);
    CHECK(a.c1->words == c1.at("words").to_number<std::int64_t>());
    CHECK(a.c1->e11 == c1.at("e11").to_number<std::int64_t>());
    CHECK(a.c1->e21 == c1.at("e21").to_number<std::int64_t>());
    CHECK(a.c1->e31 == c1.at("e31").to_number<std::int64_t>());
    CHECK(a.c2->words == std::max<std::int64_t>(0, a.frames - 109));
    CHECK(a.c2->e32 == 0);
    const auto wrong = static_cast<double>(a.c1->e11 + a.c1->e21 + a.c1->e31);
    CHECK(*a.bler_per_s == Approx(wrong / static_cast<double>(a.c1->words) * *a.channel_rate_hz / 588));
  }
}

TEST_CASE("analysis: every complete Q block of the stored eyes is read, and none is invented", "[disc]") {
  for (const std::string name : eyes) {
    const StoredEye eye = support::stored_eye(name);
    const Analysis a = analyse(eye.wave.view(), eye.options());
    INFO(name);
    std::vector<const boost::json::object*> complete;
    for (const auto& section : eye.truth().at("subcode").as_array()) {
      if (section.as_object().at("complete").as_bool()) complete.push_back(&section.as_object());
    }
    REQUIRE(a.subcode.size() == complete.size());
    for (std::size_t i = 0; i < complete.size(); ++i) {
      const auto& want = *complete[i];
      const QBlock& got = a.subcode[i];
      CHECK(got.crc);
      CHECK(got.control == want.at("control").to_number<int>());
      CHECK(got.adr == want.at("adr").to_number<int>());
      CHECK(got.track == want.at("track").to_number<int>());
      CHECK(got.index == want.at("index").to_number<int>());
      CHECK(time_or_none(got.relative) == want.at("relative").as_string());
      CHECK(time_or_none(got.absolute) == want.at("absolute").as_string());
      if (i > 0) CHECK(got.start_s - a.subcode[i - 1].start_s == Approx(98 * 588 / *a.channel_rate_hz).epsilon(1e-4));
    }
    const bool is_short = has_flag(eye, "short");
    const std::string content = is_short ? "unknown" : eye.truth().at("content").as_string().c_str();
    CHECK(a.content == (content == "audio" ? Content::audio : content == "data" ? Content::data : Content::unknown));
    CHECK(warns_of(a, "no complete subcode block") == is_short);
  }
}

TEST_CASE("analysis: what is no eye is refused with a reason", "[disc]") {
  base::Random random(3, "noise");
  const double turn = 2 * 3.14159265358979323846;
  const StoredEye open = support::stored_eye("tracking-open");
  SECTION("tracking open") {
    const Analysis a = analyse(open.wave.view(), open.options());
    check_refused(a);
    CHECK(*a.level.mean_v == Approx(open.number("mean_v")).margin(0.005));
  }
  SECTION("white noise") {
    check_refused(analyse(made_of([&](int) { return random.normal(); }).view()));
  }
  SECTION("constant") {
    check_refused(analyse(made_of([](int) { return 1.25; }).view()));
  }
  SECTION("constant with noise") {
    check_refused(analyse(made_of([&](int) { return 1.25 + 0.006 * random.normal(); }).view()));
  }
  SECTION("sine at the frequency of 3T") {
    check_refused(analyse(made_of([&](int i) { return std::sin(turn * 720.3e3 * i / 20e6); }).view()));
  }
  SECTION("sine at the frequency of 11T") {
    check_refused(analyse(made_of([&](int i) { return std::sin(turn * 196.4e3 * i / 20e6); }).view()));
  }
  SECTION("square at the frequency of 11T, with and without noise") {
    for (const double noise : {0.0, 0.02}) {
      check_refused(analyse(made_of([&](int i) {
                              const double phase = std::fmod(i * 4321800.0 / 20e6, 22.0);
                              return (phase < 11 ? 1.0 : 0.0) + noise * random.normal();
                            }).view()));
    }
  }
  SECTION("music of two channels") {
    check_refused(analyse(made_of([&](int i) {
                            const double t = i / 20e6;
                            return std::sin(turn * 440 * t) + 0.5 * std::sin(turn * 3140 * t) +
                                   0.3 * std::sin(turn * 9000 * t) + 0.001 * random.normal();
                          }).view()));
  }
  SECTION("random telegraph signal with edges anywhere between 3T and 11T") {
    double next = 0;
    bool high = false;
    check_refused(analyse(made_of([&](int i) {
                            if (i > next) {
                              next = i + random.uniform(3, 11) * 20e6 / 4321800;
                              high = !high;
                            }
                            return (high ? 1.0 : 0.0) + 0.01 * random.normal();
                          }).view()));
  }
}

TEST_CASE("analysis: strange records are answered, not thrown at", "[disc]") {
  const float nan = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
  const auto of = [](std::vector<float> volts, double rate_hz) {
    signal::Waveform wave;
    wave.codes = std::move(volts);
    wave.rate_hz = rate_hz;
    return wave;
  };
  check_refused(analyse(of({}, 20e6).view()));
  check_refused(analyse(of({1.0F}, 20e6).view()));
  check_refused(analyse(of(std::vector<float>(5000, nan), 20e6).view()));
  CHECK_FALSE(analyse(of(std::vector<float>(5000, nan), 20e6).view()).level.mean_v);
  check_refused(analyse(of(std::vector<float>(5000, inf), 20e6).view()));
  check_refused(analyse(of(std::vector<float>(5000, 1.0F), 0).view()));
  check_refused(analyse(of(std::vector<float>(5000, 1.0F), -1).view()));
  check_refused(analyse(of(std::vector<float>(5000, 1.0F), std::nan("")).view()));
  std::vector<float> extremes;
  for (int i = 0; i < 5000; ++i) {
    extremes.push_back(i / 7 % 2 == 0 ? std::numeric_limits<float>::max() : std::numeric_limits<float>::lowest());
  }
  check_refused(analyse(of(extremes, 20e6).view()));
  signal::Waveform no_scale = of(std::vector<float>(5000, 1.0F), 20e6);
  no_scale.scale_v = 0;
  check_refused(analyse(no_scale.view()));
}

TEST_CASE("analysis: samples that are no numbers are replaced, counted and told", "[disc]") {
  support::Eye eye = support::render({.duration_s = 0.002});
  for (std::size_t i = 1000; i < eye.volts.size(); i += 5000) eye.volts[i] = std::numeric_limits<float>::quiet_NaN();
  const Analysis a = analyse(eye.view());
  REQUIRE(a.has_eye);
  CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.002));
  CHECK(warns_of(a, "no numbers"));
  CHECK(a.disturbed);
}

TEST_CASE("analysis: which side is light follows from the dark level", "[disc]") {
  EyeSettings settings;
  settings.pit_longer_t = 0.3;  // asymmetric: its sign tells which side was taken for light
  settings.duration_s = 0.005;
  support::Eye eye = support::render(settings);
  AnalysisOptions options;
  options.dark_v = 0.0;
  const Analysis upright = analyse(eye.view(), options);
  CHECK(*upright.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
  CHECK(*upright.i11_over_top == Approx(eye.truth.i11_v / eye.truth.top_v).margin(0.002));

  for (float& v : eye.volts) v = 3.0F - v;  // an amplifier that inverts; dark lies above the signal
  options.dark_v = 3.0;
  const Analysis inverted = analyse(eye.view(), options);
  CHECK(*inverted.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
  CHECK(*inverted.beta == Approx(*upright.beta).margin(1e-4));
  CHECK(*inverted.level.top_v == Approx(3.0 - eye.truth.top_v).margin(0.002));
  CHECK(*inverted.level.top_v < *inverted.level.bottom_v);
  CHECK(*inverted.i11_over_top == Approx(*upright.i11_over_top).margin(1e-4));
  CHECK(inverted.frames == upright.frames);

  const Analysis unknown = analyse(eye.view());
  CHECK_FALSE(unknown.i11_over_top);
  CHECK(*unknown.asymmetry == Approx(-eye.truth.asymmetry).margin(0.001));
  CHECK(warns_of(unknown, "no dark level"));

  options.dark_v = 1.6;
  const Analysis inside = analyse(eye.view(), options);
  CHECK_FALSE(inside.i11_over_top);
  CHECK(warns_of(inside, "inside the signal"));

  options.dark_v = 3.0;
  options.a_c_coupled = true;
  CHECK_FALSE(analyse(eye.view(), options).i11_over_top);
}

TEST_CASE("analysis: a negative scale is volts all the same", "[disc]") {
  EyeSettings settings;
  settings.pit_longer_t = 0.3;
  settings.duration_s = 0.005;
  const support::Eye eye = support::render(settings);
  signal::Waveform wave = eye.on_screen(-0.1, 2.3);
  for (auto& code : std::get<std::vector<std::int8_t>>(wave.codes)) code = static_cast<std::int8_t>(-1 - code);
  wave.offset_v -= wave.scale_v;  // volts = -(code) x scale: the same volts from mirrored codes
  wave.scale_v = -wave.scale_v;
  const Analysis a = analyse(wave.view(), {.dark_v = 0.0});
  CHECK(*a.level.top_v == Approx(eye.truth.top_v).margin(0.002));
  CHECK(*a.level.bottom_v == Approx(eye.truth.bottom_v).margin(0.002));
  CHECK(*a.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
}

TEST_CASE("analysis: from 1.85 to 230 samples a channel bit the same eye gives the same numbers", "[disc]") {
  for (const double rate_hz : {8.0e6, 8.1e6, 9.7e6, 12.5e6, 33.3e6, 100e6, 1e9}) {
    EyeSettings settings;
    settings.rate_hz = rate_hz;
    settings.duration_s = rate_hz > 50e6 ? 0.001 : 0.005;
    settings.edge_jitter_t = 0.05;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO(rate_hz << " Hz");
    REQUIRE(a.has_eye);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.002));
    CHECK(*a.level.i3_v == Approx(eye.truth.i3_v).margin(0.003 * eye.truth.i11_v));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    // sqrt(2) of one edge is 16.4 ns; intersymbol part and noise add 4 to 9 ns in squares.
    CHECK(*a.jitter_all_ns > 16.0);
    CHECK(*a.jitter_all_ns < 19.5);
  }
}

TEST_CASE("analysis: any speed is found, also 5 % off and swinging by 1 % with the turns of the disc", "[disc]") {
  for (const double times : {0.95, 1.0, 1.05, 2.0, 4.0}) {
    EyeSettings settings;
    settings.rate_hz = 40e6;
    settings.channel_rate_hz *= times;
    settings.duration_s = 0.015;
    settings.rate_change = [](double t) { return 0.01 * std::sin(6.2832 * 9 * t + 1); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
    INFO(times << "x");
    REQUIRE(a.has_eye);
    CHECK(*a.speed == std::round(times));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.sync_lost == 0);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
  }
}

TEST_CASE("analysis: a moving baseline is followed and does not bias the levels", "[disc]") {
  for (const double hz : {10.0, 50.0, 200.0, 1000.0}) {
    EyeSettings settings;
    settings.duration_s = 0.015;
    settings.baseline_v = [&](double t) { return 0.3 * std::sin(6.2832 * hz * t + 1); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = -0.5});
    INFO(hz << " Hz");
    REQUIRE(a.has_eye);
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
    CHECK(*a.level.mean_v == Approx(eye.truth.mean_v).margin(0.001));
    CHECK(a.frames == eye.truth.frames);
    CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    CHECK(*a.jitter_all_ns < 9);  // intersymbol part 3.8 ns, noise 4.5 ns; a fixed level would give more than 50 ns
  }
}

TEST_CASE("analysis: asymmetry is read over the whole range of the standard", "[disc]") {
  for (const double longer_t : {-0.9, -0.6, -0.3, 0.3, 0.6, 0.9}) {
    EyeSettings settings;
    settings.duration_s = 0.005;
    settings.pit_longer_t = longer_t;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
    INFO(longer_t << " T");
    CHECK(*a.asymmetry == Approx(eye.truth.asymmetry).margin(0.001));
    CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).epsilon(0.001));
    CHECK(a.frames == eye.truth.frames);
  }
}

TEST_CASE("analysis: noise does not cross twice, and the levels stay free of it", "[disc]") {
  for (const double noise_v : {0.0, 0.013, 0.026, 0.039}) {  // to 3 % of the eye
    for (const double rate_hz : {10e6, 20e6, 100e6}) {
      EyeSettings settings;
      settings.rate_hz = rate_hz;
      settings.noise_v = noise_v;
      settings.duration_s = 0.005;
      const support::Eye eye = support::render(settings);
      const Analysis a = analyse(eye.view(), {.dark_v = 0.0});
      INFO(noise_v << " V at " << rate_hz << " Hz");
      REQUIRE(a.has_eye);
      CHECK(*a.level.i11_v == Approx(eye.truth.i11_v).margin(4 * *a.level_standard_error_v + 0.0005));
      CHECK(*a.level_noise_v == Approx(noise_v).margin(0.1 * noise_v + 0.001));
      CHECK(a.frames == eye.truth.frames);
      CHECK(a.c1->e11 + a.c1->e21 + a.c1->e31 == 0);
    }
  }
}

TEST_CASE("analysis: black spots are left out of the levels and told, the rest is read on", "[disc]") {
  for (const double spot_s : {20e-6, 100e-6, 231e-6, 1e-3}) {  // 231 us: 0.3 mm at 1.3 m/s, ECMA-130 12.6.2
    EyeSettings settings;
    settings.duration_s = 0.03;
    const support::EyeTruth clean = support::render(settings).truth;
    settings.light = [&](double t) {
      double light = 1;
      for (const double at : {0.006, 0.0145, 0.026})
        light *= 1 - 0.5 * std::erfc((std::abs(t - at) - spot_s / 2) / 5e-6);
      return light;
    };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO(spot_s << " s");
    REQUIRE(a.has_eye);
    CHECK(a.disturbed);
    CHECK(*a.level.i11_v == Approx(clean.i11_v).epsilon(0.001));
    CHECK(*a.level.mean_v == Approx(eye.truth.mean_v).margin(0.003));
    CHECK(a.frames <= clean.frames);
    CHECK(a.frames >= clean.frames - 9);
    CHECK(a.c1->e31 > 0);
    CHECK(static_cast<double>(a.c1->e31) < 3 * (spot_s * 7350 + 4));  // words touched by each spot
    for (const QBlock& q : a.subcode) CHECK((q.crc || !q.absolute));
  }
}

TEST_CASE("analysis: the clock comes back on the right bit after any spot", "[disc]") {
  // It once came back with lands a bit too long and pits a bit too short, and lost every frame after the spot.
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    base::Random random(seed, "spot");
    EyeSettings settings;
    settings.seed = seed;
    settings.rate_hz = random.uniform(9e6, 25e6);
    settings.duration_s = 0.012;
    settings.edge_jitter_t = 0.03;
    const double at_s = random.uniform(0.002, 0.004), length_s = random.uniform(50e-6, 400e-6);
    const double border_s = random.uniform(3e-6, 40e-6);
    settings.light = [&](double t) {
      return 1 - 0.45 * std::erfc((std::abs(t - at_s) - length_s / 2) / border_s);  // a tenth of the light is left
    };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO("seed " << seed);
    REQUIRE(a.has_eye);
    CHECK(a.frames >= eye.truth.frames - 1);
    CHECK(a.frames <= eye.truth.frames);
    CHECK(static_cast<double>(a.c1->e11 + a.c1->e21 + a.c1->e31) <= 4 + (length_s + 4 * border_s) * 7350);
    CHECK(*a.level.i3_v == Approx(0.54 * 1.3).margin(0.02));
    CHECK(*a.channel_rate_hz == Approx(eye.truth.channel_rate_hz).epsilon(100e-6));
  }
}

TEST_CASE("analysis: lost focus inside the record is left out and told", "[disc]") {
  for (const double at_s : {0.0, 0.015, 0.03}) {
    EyeSettings settings;
    settings.duration_s = 0.03;
    const support::EyeTruth clean = support::render(settings).truth;
    constexpr double lost_s = 0.006;
    settings.contrast = [&](double t) { return 1 - 0.97 * 0.5 * std::erfc((std::abs(t - at_s) - lost_s / 2) / 3e-4); };
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.on_screen(-0.1, 2.3).view(), {.dark_v = 0.0});
    INFO("at " << at_s << " s");
    REQUIRE(a.has_eye);
    CHECK(a.disturbed);
    CHECK(warns_of(a, "weak or lost"));
    CHECK(*a.level.i11_v == Approx(clean.i11_v).epsilon(0.002));
    const double inside_s = at_s > 0 && at_s < 0.03 ? lost_s : lost_s / 2;
    CHECK(static_cast<double>(a.frames) == Approx(clean.frames - inside_s * 7350).margin(8));
    CHECK(a.locked_share == Approx(1 - inside_s / 0.03).margin(0.05));
    CHECK(a.c1->e11 + a.c1->e21 <= 3);
    CHECK(a.c1->e31 <= 6);
  }
}

TEST_CASE("analysis: a clipped top is reported, not guessed", "[disc]") {
  EyeSettings settings;
  settings.duration_s = 0.005;
  const support::Eye eye = support::render(settings);
  for (const double high_v : {1.5, 1.8, 1.98}) {
    const Analysis a = analyse(eye.on_screen(-0.1, high_v).view(), {.dark_v = 0.0});
    INFO(high_v << " V");
    REQUIRE(a.has_eye);
    CHECK_FALSE(a.level.peak_to_peak_v);
    CHECK_FALSE(a.i11_over_top);
    CHECK(a.clipped_share > 0.01);
    CHECK(a.disturbed);
    CHECK(warns_of(a, "clipped"));
    CHECK(a.frames == eye.truth.frames);  // the middle of the eye is still there
  }
  // Volts as floats: only the screen tells where the converter ends.
  support::Eye floats = eye;
  for (float& v : floats.volts) v = std::min(v, 1.8F);
  signal::WaveformView view = floats.view();
  view.screen = signal::Screen{-0.6, 1.8};
  CHECK_FALSE(analyse(view).level.peak_to_peak_v);
  // Without a screen it is a limit on the way: the level is what was there, and a warning says that it is flat.
  view.screen.reset();
  const Analysis flat = analyse(view);
  CHECK(flat.level.top_v == Approx(1.8).margin(0.005));
  CHECK(warns_of(flat, "flat"));
}

TEST_CASE("analysis: a capture of a sequence gives levels and their standard error, and no more than was asked",
          "[disc]") {
  AnalysisOptions options;
  options.dark_v = 0.0;
  options.subcode_wanted = false;
  options.errors_wanted = false;
  double off = 0, squares = 0, stated = 0;
  constexpr int captures = 24;
  for (int i = 0; i < captures; ++i) {
    EyeSettings settings;
    settings.duration_s = 500e-6;  // 10 000 samples, 3.67 frames
    settings.start_bit = 600 + 530.0 * i;
    settings.seed = static_cast<std::uint64_t>(i) + 1;
    settings.noise_v = 0.013;
    const support::Eye eye = support::render(settings);
    const Analysis a = analyse(eye.view(), options);
    REQUIRE(a.has_eye);
    REQUIRE(a.level_standard_error_v);
    CHECK(a.level_runs >= 6);
    CHECK(a.subcode.empty());
    CHECK_FALSE(a.c1);
    const double error = *a.level.peak_to_peak_v - eye.truth.i11_v;
    off += error;
    squares += error * error;
    stated += *a.level_standard_error_v * *a.level_standard_error_v;
  }
  // Bias over many captures: a tenth of 1 % of the level; the stated standard error is that of the scatter seen.
  CHECK(std::abs(off / captures) < 0.001 * 1.3);
  CHECK(std::sqrt(squares / stated) > 0.6);
  CHECK(std::sqrt(squares / stated) < 1.5);
}

TEST_CASE("analysis: records too short for a frame and its next sync are refused", "[disc]") {
  const support::Eye eye = support::render({.duration_s = 100e-6});
  check_refused(analyse(eye.view()));
}
