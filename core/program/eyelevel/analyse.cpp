// SPDX-License-Identifier: Apache-2.0
// `eyelevel analyse WAVEFORM`: eye and disc measurements of a stored waveform, as a page for people or as JSON.
#include <fmt/format.h>
#include <unistd.h>

#include <boost/json.hpp>
#include <cstdio>
#include <map>
#include <memory>

#include "core/disc/analysis.hpp"
#include "core/program/eyelevel/analyse_errors.hpp"
#include "core/program/eyelevel/analyse_pictures.hpp"
#include "core/program/eyelevel/analyse_servo.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/output.hpp"
#include "core/program/waveform_file.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::string file;
  WaveformReading reading;
  std::optional<double> dark_v;
  CapturedSignal signal = CapturedSignal::eye;
  std::optional<double> reference_v;
  bool ac = false;
  bool as_json = false;
  disc::CircStrategy strategy;
  std::string audio;
  std::string pictures;
};

json::value number(const std::optional<double>& value) {
  return value && std::isfinite(*value) ? json::value(*value) : json::value(nullptr);
}

std::string clock_text(const disc::MinSecFrame& t) {
  return fmt::format("{:02}:{:02}:{:02}", t.minute, t.second, t.frame);
}

json::value clock_json(const std::optional<disc::MinSecFrame>& t) {
  return t ? json::value(clock_text(*t)) : json::value(nullptr);
}

std::string_view content_text(disc::Content content) {
  switch (content) {
    case disc::Content::audio: return "audio";
    case disc::Content::data: return "data";
    case disc::Content::unknown: break;
  }
  return "unknown";
}

json::object block_json(const disc::QBlock& b) {
  json::object o;
  o["control"] = b.control;
  o["adr"] = b.adr;
  o["track"] = b.track == 0xAA ? json::value("AA") : json::value(b.track);
  o["index"] = b.index ? json::value(*b.index) : json::value(nullptr);
  o["point"] = b.point ? json::value(fmt::format("{:02X}", *b.point)) : json::value(nullptr);
  o["relative"] = clock_json(b.relative);
  o["absolute"] = clock_json(b.absolute);
  o["crc"] = b.crc;
  return o;
}

json::value contents_json(const disc::Analysis& a) {
  if (!a.contents) return nullptr;
  json::array tracks;
  for (const auto& [number, track] : a.contents->tracks) {
    tracks.push_back(json::object{
        {"track", number}, {"start", clock_text(track.start)}, {"content", track.is_data ? "data" : "audio"}});
  }
  return json::object{{"complete", a.contents->complete},
                      {"mark", a.contents->complete ? json::value(a.contents->mark) : json::value(nullptr)},
                      {"lead_out", clock_json(a.contents->lead_out)},
                      {"tracks", std::move(tracks)}};
}

json::array swings_json(const std::vector<disc::SwingAt>& swings) {
  json::array all;
  for (const auto& s : swings) all.push_back(json::object{{"hz", s.hz}, {"percent", s.percent}});
  return all;
}

json::object envelope_json(const disc::Analysis& a) {
  const disc::EnvelopeFigures& e = a.envelope;
  json::array faults;
  for (const auto& f : a.faults) faults.push_back(json::object{{"start_s", f.start_s}, {"length_s", f.length_s}});
  json::value turns = nullptr;
  if (e.once_around) {
    turns = json::object{{"hz", e.once_around->hz},
                         {"height_percent", e.once_around->height_percent},
                         {"middle_percent", e.once_around->middle_percent}};
  }
  return json::object{{"height_v", number(e.height_v)},
                      {"settled_after_s", number(e.settled_after_s)},
                      {"fast_percent", number(e.fast_percent)},
                      {"openings_per_s", number(e.openings_per_s)},
                      {"once_around", std::move(turns)},
                      {"hum", swings_json(e.hum)},
                      {"lines", swings_json(e.lines)},
                      {"faults", a.fault_count},
                      {"first_faults", std::move(faults)},
                      {"radius_m", number(a.radius_m)},
                      {"velocity_m_per_s", number(a.velocity_m_per_s)},
                      {"missing", json::array(e.missing.begin(), e.missing.end())}};
}

json::array run_lengths_json(const disc::Analysis& a) {
  json::array rows;
  for (const disc::RunLengths& r : a.run_lengths) {
    rows.push_back(json::object{{"t", r.t},
                                {"kind", r.is_land ? "land" : "pit"},
                                {"count", r.count},
                                {"level_v", number(r.level_v)},
                                {"length_error_ns", number(r.length_error_ns)},
                                {"jitter_ns", number(r.jitter_ns)},
                                {"jitter_percent_t", number(r.jitter_percent_t)}});
  }
  return rows;
}

json::object to_json(const disc::Analysis& a, const disc::CircStrategy& strategy) {
  json::object o;
  o["speed"] = number(a.speed);
  o["channel_rate_hz"] = number(a.channel_rate_hz);
  o["samples"] = a.samples;
  o["duration_s"] = a.duration_s;
  o["level"] = json::object{{"peak_to_peak_v", number(a.level.peak_to_peak_v)},
                            {"i11_v", number(a.level.i11_v)},
                            {"i3_v", number(a.level.i3_v)},
                            {"top_v", number(a.level.top_v)},
                            {"bottom_v", number(a.level.bottom_v)},
                            {"mean_v", number(a.level.mean_v)}};
  o["level_standard_error_v"] = number(a.level_standard_error_v);
  o["i3_over_i11"] = number(a.i3_over_i11);
  o["i11_over_top"] = number(a.i11_over_top);
  o["asymmetry"] = number(a.asymmetry);
  o["beta"] = number(a.beta);
  json::object jitter{{"all", number(a.jitter_all_ns)}};
  json::object runs;
  for (std::size_t n = 3; n <= 11; ++n) {
    jitter[fmt::format("{}T", n)] = number(a.jitter_ns[n]);
    runs[fmt::format("{}T", n)] = a.runs[n];
  }
  o["jitter_ns"] = std::move(jitter);
  o["jitter_of_instrument_ns"] = number(a.jitter_of_instrument_ns);
  o["edge_jitter"] = json::object{{"ns", number(a.edge_jitter_ns)},
                                  {"of_instrument_ns", number(a.edge_jitter_of_instrument_ns)},
                                  {"loop_hz", number(a.edge_jitter_loop_hz)}};
  o["runs"] = std::move(runs);
  o["run_lengths"] = run_lengths_json(a);
  o["frames"] = a.frames;
  o["sync_lost"] = a.sync_lost;
  json::array blocks;
  for (const auto& b : a.subcode) blocks.push_back(block_json(b));
  o["subcode"] = std::move(blocks);
  o["content"] = content_text(a.content);
  o["contents"] = contents_json(a);
  o["envelope"] = envelope_json(a);
  put_errors(o, a, strategy);
  o["locked_share"] = a.locked_share;
  o["clipped_share"] = a.clipped_share;
  json::array warnings;
  for (const auto& w : a.warnings) warnings.emplace_back(w);
  o["warnings"] = std::move(warnings);
  return o;
}

void line(std::string_view name, const std::optional<double>& value, double factor, int digits, std::string_view unit,
          std::string_view say = {}) {
  if (value)
    fmt::print("  {:<28}{:>10.{}f} {:<3} {}\n", name, *value * factor, digits, unit, say);
  else
    fmt::print("  {:<28}{:>10} {:<3} {}\n", name, "-", "", say);
}

// What of a jitter may come from the oscilloscope and not from the disc.
std::string of_instrument(const std::optional<double>& ns) {
  return ns ? fmt::format("up to {:.1f} ns of it (in squares) the oscilloscope's", *ns) : std::string();
}

std::string about_edge_jitter(const disc::Analysis& a) {
  if (!a.edge_jitter_loop_hz) return {};
  return fmt::format("{}; the clock follows what is slower than {:.1f} kHz",
                     of_instrument(a.edge_jitter_of_instrument_ns), 1e-3 * *a.edge_jitter_loop_hz);
}

std::string where_on_disc(const disc::QBlock& b) {
  if (!b.crc) return "a damaged block";
  if (!b.relative) return fmt::format("a block of mode {} (no time in it)", b.adr);
  if (b.track == 0) return fmt::format("lead-in, contents entry {:02X}", b.point.value_or(0));
  const std::string track = b.track == 0xAA ? "lead-out" : fmt::format("track {}", b.track);
  return fmt::format("{}, index {}, {} in the track, {} on the disc", track, b.index.value_or(0),
                     clock_text(*b.relative), b.absolute ? clock_text(*b.absolute) : "-");
}

void print_contents(const disc::TableOfContents& contents) {
  fmt::print("  {:<28}{}\n", "table of contents",
             contents.complete ? contents.mark + " (the same on every disc of this pressing)" : "not complete");
  for (const auto& [number, track] : contents.tracks) {
    fmt::print("    track {:<3} from {}, {}\n", number, clock_text(track.start), track.is_data ? "data" : "audio");
  }
}

std::string cell(const std::optional<double>& value, int digits) {
  return value ? fmt::format("{:.{}f}", *value, digits) : "-";
}

// Pits and lands of one length side by side.
void print_run_lengths(const disc::Analysis& a) {
  fmt::print("\nRun lengths (at the pad as our slicer sees it): mean level, mean length error, jitter of the length\n");
  fmt::print("       {:>39}   {:>39}\n", "pits: runs  level V  error ns  jitter ns",
             "lands: runs  level V  error ns  jitter ns");
  for (std::size_t i = 0; i + 1 < a.run_lengths.size(); i += 2) {
    const auto half = [](const disc::RunLengths& r) {
      return fmt::format("{:>10}{:>9}{:>10}{:>11}", r.count, cell(r.level_v, 4), cell(r.length_error_ns, 1),
                         cell(r.jitter_ns, 1));
    };
    fmt::print("  {:>3}T {}   {}\n", a.run_lengths[i].t, half(a.run_lengths[i]), half(a.run_lengths[i + 1]));
  }
}

std::string list_of(const std::vector<disc::SwingAt>& swings) {
  std::string text;
  for (const auto& s : swings) text += fmt::format("{}{:.3g} Hz {:.2g} %", text.empty() ? "" : ", ", s.hz, s.percent);
  return text;
}

void print_envelope(const disc::Analysis& a) {
  const disc::EnvelopeFigures& e = a.envelope;
  if (!e.height_v) return;
  fmt::print("\nThe outline of the eye over time (between extremes, so noise is in it)\n");
  line("height", e.height_v, 1, 4, "V");
  line("settled after", e.settled_after_s, 1e3, 1, "ms", "then within 10 % of the height at the end");
  line("from frame to frame", e.fast_percent, 1, 2, "%", "rms");
  if (e.openings_per_s) line("opens and closes", e.openings_per_s, 1, 0, "/s", "tracks are crossed");
  if (e.once_around) {
    line("turns of the disc", e.once_around->hz, 1, 2, "Hz",
         fmt::format("height swings by {:.1f} %, middle by {:.1f} % of the height", e.once_around->height_percent,
                     e.once_around->middle_percent));
  }
  if (a.radius_m) {
    line("radius", a.radius_m, 1e3, 1, "mm", fmt::format("speed of the track {:.2f} m/s", *a.velocity_m_per_s));
  }
  if (!e.hum.empty()) fmt::print("  {:<28}{}\n", "hum", list_of(e.hum));
  if (!e.lines.empty()) fmt::print("  {:<28}{}\n", "strongest swings of height", list_of(e.lines));
  if (a.fault_count > 0) fmt::print("  {:<28}{:>10}\n", "places weak or lost", a.fault_count);
  for (const auto& text : e.missing) fmt::print("    {}\n", text);
}

void print_page(const Options& options, const WaveformFile& file, const disc::Analysis& a) {
  fmt::print("{}: {} samples, {:.3f} ms at {:.4g} MSa/s\n", options.file, a.samples, a.duration_s * 1e3,
             file.samples->about().rate_hz / 1e6);
  if (!file.assumed.empty()) fmt::print("  read as: {}\n", fmt::join(file.assumed, ", "));
  if (a.has_eye) {
    fmt::print("\nThe eye (at the pad as our slicer sees it, before the player's own equaliser)\n");
    line("level, 11T peak to peak", a.level.peak_to_peak_v, 1, 4, "V");
    line("3T peak to peak", a.level.i3_v, 1, 4, "V");
    line("top (lands)", a.level.top_v, 1, 4, "V");
    line("bottom (pits)", a.level.bottom_v, 1, 4, "V");
    line("mean", a.level.mean_v, 1, 4, "V", "what a d.c. meter shows");
    line("I3 / I11", a.i3_over_i11, 1, 3, "");
    line("I11 / Itop", a.i11_over_top, 1, 3, "", "at least 0.6 (ECMA-130 12.2)");
    line("asymmetry", a.asymmetry, 100, 2, "%", "within 20 % (ECMA-130 12.3)");
    line("jitter of run lengths", a.jitter_all_ns, 1, 1, "ns", of_instrument(a.jitter_of_instrument_ns));
    line("jitter of edges to the clock", a.edge_jitter_ns, 1, 1, "ns", about_edge_jitter(a));
    print_run_lengths(a);
    fmt::print("\nThe disc\n");
    line("speed", a.speed, 1, 0, "x");
    line("channel clock", a.channel_rate_hz, 1e-6, 4, "MHz");
    fmt::print("  {:<28}{:>10}\n  {:<28}{:>10}\n", "frames", a.frames, "content", content_text(a.content));
    for (const auto& b : a.subcode) fmt::print("  at {:7.2f} ms: {}\n", b.start_s * 1e3, where_on_disc(b));
    if (a.contents) print_contents(*a.contents);
    print_envelope(a);
    print_errors(a, options.strategy);
  } else {
    fmt::print("\nNo eye to be measured here.\n");
    line("mean", a.level.mean_v, 1, 4, "V", "what a d.c. meter shows");
    print_envelope(a);
  }
  if (!a.warnings.empty()) fmt::print("\n");
  for (const auto& w : a.warnings) fmt::print("note: {}\n", w);
}

// Whether sound was written, if it was wanted.
bool give_sound(const Options& options, const disc::Analysis& a) {
  if (options.audio.empty()) return true;
  const std::string why = why_no_sound(a);
  if (!why.empty()) {
    fmt::print(stderr, "no sound was written to {}: {}\n", options.audio, why);
    return false;
  }
  fmt::print(stderr, "{}\n", write_sound(options.audio, options.file, a));
  return true;
}

// On a terminal, how far a file is read that takes a while.
class Progress {
 public:
  explicit Progress(std::size_t bytes) : bytes_(bytes), shown_(::isatty(STDERR_FILENO) == 1 && bytes >= bytes_least) {}
  Progress(const Progress&) = delete;
  Progress& operator=(const Progress&) = delete;
  ~Progress() {
    if (percent_ >= 0) put(stderr, "\n");
  }

  void show(std::size_t passed) {
    const int percent = static_cast<int>(100 * static_cast<double>(passed) / static_cast<double>(bytes_));
    if (!shown_ || percent == percent_) return;
    percent_ = percent;
    put(stderr, fmt::format("\r{} % of {:.0f} MB", percent, static_cast<double>(bytes_) / 1e6));
  }

 private:
  static constexpr std::size_t bytes_least = 20'000'000;  // about half a second at 20 MSa/s and 8 bits

  std::size_t bytes_;
  bool shown_;
  int percent_ = -1;
};

disc::Analysis analyse_samples(const WaveformFile& file, const disc::AnalysisOptions& options) {
  signal::SampleStream& samples = *file.samples;
  disc::StreamAnalyser analyser(samples.about(), options);
  const std::size_t bytes = file.file.bytes().size();
  Progress progress(bytes);
  while (true) {
    const signal::CodesView block = samples.next();
    if (std::visit([](const auto& codes) { return codes.empty(); }, block)) break;
    analyser.take(block);
    progress.show(samples.bytes_passed());
  }
  progress.show(bytes);
  return analyser.finish(samples.about().codes);
}

int analyse(const Options& options) {
  const auto file = open_waveform(options.file, options.reading);
  if (options.signal != CapturedSignal::eye) {
    return analyse_servo(*file, options.signal, options.reference_v, options.as_json);
  }
  const auto result = analyse_samples(*file, {.dark_v = options.dark_v,
                                              .a_c_coupled = options.ac,
                                              .subcode_wanted = true,
                                              .errors_wanted = true,
                                              .sound_wanted = !options.audio.empty(),
                                              .strategy = options.strategy});
  if (options.as_json) {
    json::object object = to_json(result, options.strategy);
    object["assumed"] = json::array(file->assumed.begin(), file->assumed.end());
    fmt::print("{}\n", json::serialize(object));
  } else
    print_page(options, *file, result);
  if (!options.pictures.empty()) {
    for (const auto& path : write_pictures(options.pictures, options.file, options.reading, result)) {
      fmt::print(stderr, "{}\n", path);
    }
  }
  const bool good = result.has_eye && !result.disturbed;
  return give_sound(options, result) && good ? all_met : not_met;
}

}  // namespace

void add_analyse(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command = subcommand(app, "analyse", "Eye and disc measurements of a stored waveform",
                             "eyelevel analyse capture.npy --rate 20e6 --scale 0.0094 --offset 1.1 --dark 0.45");
  command
      ->add_option("waveform", options->file, ".npy, CSV as oscilloscopes write it, WAV, or bare samples with --format")
      ->required();
  command->add_option("--rate", options->reading.rate_hz, "samples per second, where the file does not say");
  command->add_option("--scale", options->reading.scale_v, "volts per code, or for 1 in a file of numbers");
  command->add_option("--offset", options->reading.offset_v, "volts at code 0");
  command
      ->add_option("--channel", options->reading.channel, "which channel of the file, counted from 1 (else the first)")
      ->check(CLI::Range(1, 64));
  command->add_option("--format", options->reading.format,
                      "bare samples: int8, uint8, int16le, int16be, float32le, ...");
  command->add_option("--dark", options->dark_v, "voltage without light, amplifier alive");
  command->add_flag("--ac", options->ac, "the signal was a.c. coupled: top and dark are lost");
  command->add_option("--signal", options->signal, "what was captured: eye (else taken), focus-error or tracking-error")
      ->transform(CLI::CheckedTransformer(
          std::map<std::string, CapturedSignal>{{"eye", CapturedSignal::eye},
                                                {"focus-error", CapturedSignal::focus_error},
                                                {"tracking-error", CapturedSignal::tracking_error}}));
  command->add_option("--reference", options->reference_v, "voltage that a servo signal stands on when it is quiet");
  command->add_flag("--json", options->as_json, "print JSON");
  command->add_option("--audio", options->audio,
                      "write the sound of an audio track into this file: WAV, or bare samples (.raw)");
  command->add_option("--pictures", options->pictures, "write pictures of eye, runs and errors into this folder");
  command->add_option("--c1-corrects", options->strategy.c1_corrects, "wrong symbols that C1 corrects (1 or 2)")
      ->check(CLI::Range(1, 2));
  command->callback([options, &chosen] { chosen = [options] { return analyse(*options); }; });
}

}  // namespace eyelevel::program
