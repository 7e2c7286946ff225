// SPDX-License-Identifier: Apache-2.0
// What became of a run's samples, and of the run, since it closed. Subject of each entry: the run.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "core/record/books/body.hpp"

namespace eyelevel::record {

// A capture whose samples are gone, with what the sheet showed of it.
struct ThinnedCapture {
  std::int64_t event = 0;         // its number
  double time_s = 0;              // when it was taken, from the beginning of the run
  std::optional<double> level_v;  // peak to peak; empty when it held no eye
};

// The others of its series were kept: the first, the last and the one with the median level.
struct CapturesThinned {
  std::vector<ThinnedCapture> gone;
  std::int64_t kept = 0;  // captures whose samples stay
};

// The run was moved, whole, into an archive.
struct RunArchived {
  std::string file;
};

// It is back from one.
struct RunRestored {
  std::string file;
};

template <>
struct Fields<ThinnedCapture> {
  static void walk(auto& io, auto& x) { io("event", x.event), io("time_s", x.time_s), io("level_v", x.level_v); }
};
template <>
struct Fields<CapturesThinned> {
  static constexpr const char* name = "captures thinned out";
  static void walk(auto& io, auto& x) { io("gone", x.gone), io("kept", x.kept); }
};
template <>
struct Fields<RunArchived> {
  static constexpr const char* name = "run archived";
  static void walk(auto& io, auto& x) { io("file", x.file); }
};
template <>
struct Fields<RunRestored> {
  static constexpr const char* name = "run restored";
  static void walk(auto& io, auto& x) { io("file", x.file); }
};

}  // namespace eyelevel::record
