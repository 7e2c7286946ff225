// SPDX-License-Identifier: Apache-2.0
// What a sheet shows of a run, worked out from the record: the eye picture and its levels, the level of every capture.
// Reads each capture at most twice, one at a time, so memory does not grow with their number. Drawing is sheet.hpp.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "core/record/run_record.hpp"
#include "core/report/eye_picture.hpp"

namespace eyelevel::report {

struct CaptureLevel {
  double time_s = 0;  // of the capture, from the beginning of the run
  std::string name;
  bool kept = true;
  std::optional<double> level_v;  // peak to peak; empty when the capture held no eye
};

// Means over the kept captures of the eye picture. Top is more light, as the analysis says.
struct EyeLevels {
  double top_v = 0;
  double bottom_v = 0;
  std::optional<double> i3_low_v;  // extent of the shortest runs
  std::optional<double> i3_high_v;
};

struct SheetContent {
  record::RunRecord run;
  std::string eye_of;             // the captures' name; empty when there were none
  std::optional<EyePicture> eye;  // empty: no stored samples. It may hold a histogram only.
  std::optional<double> channel_bit_s;
  std::optional<EyeLevels> eye_levels;
  std::vector<CaptureLevel> levels;  // in the order taken
};

// `eye_of` names the captures to show; empty: those behind the first judged reading, else the first.
SheetContent gather_sheet(record::Store& store, record::RunRecord run, const std::string& eye_of = {});

}  // namespace eyelevel::report
