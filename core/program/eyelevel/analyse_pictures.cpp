// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_pictures.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <optional>
#include <system_error>

#include "core/base/error.hpp"
#include "core/disc/efm/code.hpp"
#include "core/disc/picture/run_spread.hpp"
#include "core/report/disc_pictures.hpp"
#include "core/report/export.hpp"

namespace eyelevel::program {

namespace {

namespace picture = disc::picture;

struct Seen {
  std::vector<picture::LowHighPoint> envelope;
  std::optional<picture::EyeDensity> eye;
  picture::RunSpreads spreads;
};

// Where the eye lies, with a quarter of its height above and below for what overshoots.
std::optional<picture::EyeFold> fold_for(const signal::WaveformView& about, const disc::Analysis& a) {
  if (!a.has_eye || !a.slice_v || !a.channel_rate_hz || !a.level.top_v || !a.level.bottom_v) return std::nullopt;
  const double low = std::min(*a.level.top_v, *a.level.bottom_v), high = std::max(*a.level.top_v, *a.level.bottom_v);
  if (!(low < high)) return std::nullopt;
  const double room = 0.25 * (high - low);
  return picture::EyeFold(about, low - room, high + room);
}

// As the analysis tells lands from pits: by their levels, which are volts.
picture::RunSpreadCounter spreads_for(const signal::WaveformView& about, const disc::Analysis& a) {
  const bool more_is_lower = a.level.top_v && a.level.bottom_v && *a.level.top_v < *a.level.bottom_v;
  return picture::RunSpreadCounter(*a.channel_rate_hz, more_is_lower != (about.scale_v > 0));
}

Seen look_again(const std::string& waveform, const WaveformReading& reading, const disc::Analysis& a) {
  const auto file = open_waveform(waveform, reading);
  signal::SampleStream& samples = *file->samples;
  picture::LowHigh envelope(samples.about());
  auto fold = fold_for(samples.about(), a);
  std::optional<picture::RunSpreadCounter> spreads;
  if (a.has_eye && a.channel_rate_hz) spreads = spreads_for(samples.about(), a);
  disc::AnalysisOptions options;
  options.subcode_wanted = options.errors_wanted = false;
  options.on_runs = [&](const auto& codes, auto runs) {
    if (fold) fold->take(codes, runs);
    if (spreads) spreads->take(runs);
  };
  disc::StreamAnalyser again(samples.about(), options);
  while (true) {
    const signal::CodesView block = samples.next();
    if (std::visit([](const auto& codes) { return codes.empty(); }, block)) break;
    envelope.take(block);
    if (spreads) again.take(block);
  }
  if (spreads) again.finish(samples.about().codes);
  Seen seen{envelope.result(), {}, {}};
  if (fold) seen.eye = fold->result();
  if (spreads) seen.spreads = spreads->result();
  return seen;
}

report::ErrorStrip strip_of(const disc::ErrorsOverTime& errors, double channel_rate_hz) {
  report::ErrorStrip strip;
  strip.words_per_s = channel_rate_hz / disc::efm::frame_bits;
  strip.bin_s = errors.stretch_s;
  for (const auto& stretch : errors.stretches) strip.bins.push_back({stretch.wrong, stretch.words});
  // What is left at the end would be drawn as wide as the others: a small rest goes to the stretch before.
  if (strip.bins.size() > 1 && 2 * strip.bins.back().words < strip.bins[strip.bins.size() - 2].words) {
    auto& before = strip.bins[strip.bins.size() - 2];
    before.wrong += strip.bins.back().wrong;
    before.words += strip.bins.back().words;
    strip.bins.pop_back();
  }
  // Of a short record the only stretch ends where the record does.
  if (strip.bins.size() == 1) strip.bin_s = static_cast<double>(strip.bins[0].words) / strip.words_per_s;
  return strip;
}

class Writer {
 public:
  explicit Writer(std::string folder) : folder_(std::move(folder)) {}

  template <class Draw>
  void write(const char* name, Draw draw) {
    for (const auto& [format, ending] :
         {std::pair{report::Format::png, "png"}, {report::Format::svg, "svg"}, {report::Format::pdf, "pdf"}}) {
      const std::string path = (std::filesystem::path(folder_) / fmt::format("{}.{}", name, ending)).string();
      report::write_file(path, draw(format));
      written_.push_back(path);
    }
  }
  const std::vector<std::string>& written() const { return written_; }

 private:
  std::string folder_;
  std::vector<std::string> written_;
};

}  // namespace

std::vector<std::string> write_pictures(const std::string& folder, const std::string& waveform,
                                        const WaveformReading& reading, const disc::Analysis& a) {
  std::error_code failed;
  std::filesystem::create_directories(folder, failed);
  if (failed) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("the folder {} for pictures cannot be made: {}", folder, failed.message()),
                      "name a folder for --pictures that you may write to");
  }
  const Seen seen = look_again(waveform, reading, a);
  Writer writer(folder);
  writer.write("envelope", [&](auto format) { return report::envelope_picture(format, seen.envelope); });
  if (seen.eye) {
    writer.write("eye", [&](auto format) { return report::eye_density_picture(format, *seen.eye); });
  }
  if (!a.run_lengths.empty()) {
    writer.write("run-lengths",
                 [&](auto format) { return report::run_length_picture(format, a.run_lengths, seen.spreads); });
    writer.write("jitter", [&](auto format) { return report::jitter_picture(format, a.run_lengths); });
  }
  if (a.c1 && a.c1->words > 0 && a.channel_rate_hz) {
    const auto strip = strip_of(a.errors_over_time, *a.channel_rate_hz);
    writer.write("block-errors", [&](auto format) { return report::error_picture(format, strip); });
  }
  return writer.written();
}

}  // namespace eyelevel::program
