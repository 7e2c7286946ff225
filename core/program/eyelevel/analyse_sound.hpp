// SPDX-License-Identifier: Apache-2.0
// The file that `eyelevel analyse --audio` writes while a record is read: WAV, or bare samples where its name ends in
// .raw. It comes to stand under its name when it is whole; until then, and where nothing is worth keeping, a file of
// that name stays what it was. One SoundFile belongs to one thread.
#pragma once

#include <cstdint>
#include <filesystem>
#include <fstream>
#include <span>
#include <string>

#include "core/disc/analysis.hpp"

namespace eyelevel::program {

// Why an analysis has no sound; empty if it has.
std::string why_no_sound(const disc::Analysis& a);

class SoundFile {
 public:
  // Throws base::Error(bad_input) where nothing can be written, or if it is the waveform that is being read.
  SoundFile(std::filesystem::path path, const std::filesystem::path& waveform);
  SoundFile(const SoundFile&) = delete;
  SoundFile& operator=(const SoundFile&) = delete;
  ~SoundFile();  // what was not kept is gone

  // Left and right in turn. Throws base::Error(bad_input) on a full disk or beyond the 4 GiB of a WAV file.
  void put(std::span<const std::int16_t> samples);
  // Puts the file under its name. Says what it holds. Only of an analysis that has sound.
  std::string keep(const disc::Analysis& a);

 private:
  void write(std::span<const std::uint8_t> bytes);
  [[noreturn]] void refuse();

  std::filesystem::path path_, unfinished_;
  bool bare_;
  std::ofstream out_;
  std::uint64_t data_bytes_ = 0;
};

}  // namespace eyelevel::program
