// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/analyse_sound.hpp"

#include <fmt/format.h>

#include <cerrno>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/disc/audio/sound.hpp"
#include "core/disc/circ/decoder.hpp"
#include "core/program/eyelevel/analyse_words.hpp"
#include "core/quantity/counted.hpp"

namespace eyelevel::program {
namespace {

namespace audio = disc::audio;
namespace fs = std::filesystem;
using quantity::counted;

}  // namespace

std::string why_no_sound(const disc::Analysis& a) {
  if (!a.has_eye) return "there is no eye, so that nothing can be read";
  if (a.content == disc::Content::data) return "the sub-channel says that data is played";
  if (a.content == disc::Content::unknown) return "the sub-channel was not read, so that it may be data";
  if (!a.sound || a.sound->sample_pairs == 0) {
    return fmt::format("{} too few: the first sound comes with the {}th in a row (ECMA-130 C.9)",
                       a.frames == 1 ? "1 frame is" : fmt::format("{} frames are", a.frames),
                       disc::circ::decode_delay + 1);
  }
  return {};
}

SoundFile::SoundFile(fs::path path, const fs::path& waveform)
    : path_(std::move(path)), unfinished_(path_.string() + ".unfinished"), bare_(path_.extension() == ".raw") {
  std::error_code ignored;  // a file that does not exist yet is neither
  if (fs::equivalent(path_, waveform, ignored)) {
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} is the waveform that is being read", path_.string()),
                      "name another file for --audio");
  }
  if (fs::exists(path_, ignored) && !fs::is_regular_file(path_, ignored)) {
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{} is no file", path_.string()),
                      "name a file for --audio");
  }
  errno = 0;
  out_.open(unfinished_, std::ios::binary | std::ios::trunc);
  if (!out_) refuse();
  if (!bare_) write(audio::wav_header(0));
}

SoundFile::~SoundFile() {
  std::error_code ignored;  // under its own name nothing has changed, whether this can be removed or not
  if (!unfinished_.empty()) fs::remove(unfinished_, ignored);
}

void SoundFile::put(std::span<const std::int16_t> samples) {
  data_bytes_ += 2 * samples.size();
  if (!bare_ && data_bytes_ > audio::wav_data_most) {
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{}: the sound is too long for a WAV file, which ends at 4 GiB", path_.string()),
                      "give --audio a name that ends in .raw, or a shorter capture");
  }
  write(audio::write_raw(samples));
}

std::string SoundFile::keep(const disc::Analysis& a) {
  if (!bare_) {
    out_.seekp(0);
    write(audio::wav_header(data_bytes_));
  }
  errno = 0;
  out_.close();
  if (!out_) refuse();
  std::error_code failed;
  fs::rename(unfinished_, path_, failed);
  if (failed) {
    errno = failed.value();
    refuse();
  }
  unfinished_.clear();
  const disc::Sound& sound = *a.sound;
  const auto pairs = static_cast<double>(sound.sample_pairs);
  std::string text =
      fmt::format("{}: {}, {}, {} of sound; {} interpolated, {} held", path_.string(),
                  bare_ ? "16 bit stereo, low byte first" : "WAV", counted(sound.sample_pairs, "sample pair"),
                  duration_text(pairs / audio::rate_hz), counted(sound.interpolated, "sample"), sound.held);
  if (a.pre_emphasis) text += "; recorded with pre-emphasis (50/15 us), which is left in";
  return text;
}

void SoundFile::write(std::span<const std::uint8_t> bytes) {
  errno = 0;
  out_.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  if (!out_) refuse();
}

void SoundFile::refuse() {
  const std::string why = errno != 0 ? std::generic_category().message(errno) : "writing failed";
  throw base::Error(base::ErrorCode::bad_input, fmt::format("{} cannot be written: {}", path_.string(), why),
                    "is the disk full, and may you write there?");
}

}  // namespace eyelevel::program
