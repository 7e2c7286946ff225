// SPDX-License-Identifier: Apache-2.0
// `eyelevel analyse WAVEFORM`: eye and disc measurements of a stored waveform, as a page for people or as JSON.
#include <fmt/format.h>

#include <boost/json.hpp>
#include <cstdint>
#include <cstdio>
#include <map>
#include <memory>
#include <optional>
#include <span>
#include <string_view>
#include <utility>

#include "core/base/error.hpp"
#include "core/disc/analysis.hpp"
#include "core/program/eyelevel/analyse_json.hpp"
#include "core/program/eyelevel/analyse_page.hpp"
#include "core/program/eyelevel/analyse_pictures.hpp"
#include "core/program/eyelevel/analyse_servo.hpp"
#include "core/program/eyelevel/analyse_sound.hpp"
#include "core/program/eyelevel/analyse_test_disc.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/eyelevel/shown_stream.hpp"
#include "core/program/files.hpp"
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
  std::string test_discs;
};

// Whether there was sound to keep.
bool keep_sound(SoundFile& sound, const Options& options, const disc::Analysis& a) {
  const std::string why = why_no_sound(a);
  if (!why.empty()) {
    fmt::print(stderr, "no sound was written to {}: {}\n", options.audio, why);
    return false;
  }
  fmt::print(stderr, "{}\n", sound.keep(a));
  return true;
}

disc::Analysis analyse_samples(signal::SampleStream& samples, const disc::AnalysisOptions& options) {
  disc::StreamAnalyser analyser(samples.about(), options);
  while (true) {
    const signal::CodesView block = samples.next();
    if (std::visit([](const auto& codes) { return codes.empty(); }, block)) break;
    analyser.take(block);
  }
  return analyser.finish(samples.about().codes);
}

// What only an eye gives, asked of another signal.
void refuse_with_servo(const Options& options) {
  if (options.signal == CapturedSignal::eye) return;
  const std::pair<const std::string&, std::string_view> of_an_eye[] = {
      {options.audio, "--audio"}, {options.pictures, "--pictures"}, {options.test_discs, "--test-discs"}};
  for (const auto& [value, name] : of_an_eye) {
    if (value.empty()) continue;
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{} is for the signal of the eye, not for a servo signal", name),
                      fmt::format("leave out {}, or --signal", name));
  }
}

int analyse(const Options& options) {
  refuse_with_servo(options);
  std::optional<bench::TestDiscs> discs;
  if (!options.test_discs.empty()) discs = load_test_discs(options.test_discs);
  const auto file = open_waveform(options.file, options.reading);
  ShownStream samples(*file->samples, file->file.bytes().size());
  if (options.signal != CapturedSignal::eye) {
    return analyse_servo(samples, options.signal, options.reference_v, options.as_json);
  }
  std::optional<SoundFile> sound;
  disc::SoundSink on_sound;
  if (!options.audio.empty()) {
    sound.emplace(options.audio, options.file);
    on_sound = [&](std::span<const std::int16_t> samples) { sound->put(samples); };
  }
  const auto result = analyse_samples(samples, {.dark_v = options.dark_v,
                                                .a_c_coupled = options.ac,
                                                .subcode_wanted = true,
                                                .errors_wanted = true,
                                                .strategy = options.strategy,
                                                .on_sound = on_sound});
  std::optional<KnownDisc> disc;
  if (discs) disc = known_disc(*discs, result);
  if (options.as_json) {
    json::object object = analysis_json(result, options.strategy, disc);
    object["assumed"] = json::array(file->assumed.begin(), file->assumed.end());
    fmt::print("{}\n", json::serialize(object));
  } else
    print_page(options.file, *file, result, options.strategy, disc);
  if (!options.pictures.empty()) {
    for (const auto& path : write_pictures(options.pictures, options.file, options.reading, result)) {
      fmt::print(stderr, "{}\n", path);
    }
  }
  const bool good = result.has_eye && !result.disturbed;
  return (!sound || keep_sound(*sound, options, result)) && good ? all_met : not_met;
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
  command->add_option("--test-discs", options->test_discs,
                      "list of the workshop's test discs (YAML): says which one this is");
  command->add_option("--c1-corrects", options->strategy.c1_corrects, "wrong symbols that C1 corrects (1 or 2)")
      ->check(CLI::Range(1, 2));
  command->callback([options, &chosen] { chosen = [options] { return analyse(*options); }; });
}

}  // namespace eyelevel::program
