// SPDX-License-Identifier: Apache-2.0
// How an oscilloscope that sends codes lays out a waveform: a header tells the scale, blocks carry integers. All of it
// is data of the phrasebook, no family has code of its own: volts = (code - reference code - origin code) x step +
// origin volts. Header fields are found by number (from 1) or by key; a field that a family does not have counts as 0.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/signal/waveform.hpp"
#include "core/yaml/key_table.hpp"
#include "core/yaml/mistake.hpp"
#include "core/yaml/node.hpp"

namespace eyelevel::phrasebook {

struct WaveformLayout {
  enum class Header { none, numbered, keyed } header = Header::none;
  // Where a value stands in the header: its number or its key; empty: nowhere.
  std::string points;
  std::string interval;
  std::string step;
  std::string reference_code;
  std::string origin_code;
  std::string origin_volts;
  bool is_signed = true;
  int bits = 8;  // 8 or 16
  bool low_byte_first = true;
  std::int64_t points_per_read = 0;  // 0: all at once
  std::int64_t first_point = 1;      // how the family counts
  // What the family says about itself where it cannot be asked; 0: ask it.
  std::int64_t points_most = 0;
  double rate_hz_most = 0;
  base::Duration pause{};  // between settings and the next message

  bool is_used() const { return header != Header::none; }
};

struct WaveformScale {
  std::int64_t points = 0;
  double interval_s = 0;
  double step_v = 0;
  double code_of_origin = 0;
  double origin_v = 0;
};

// The keys of a phrasebook that describe it.
const std::vector<yaml::Key>& layout_keys();
// From a root that was held against its table; what does not go together is a mistake.
WaveformLayout read_layout(const yaml::Node& root, yaml::Mistakes& mistakes);

// The scale that a header tells. Throws base::Error(bad_answer) with the field's name and place.
WaveformScale scale_from(std::string_view header, const WaveformLayout& layout);

// Empty codes of the layout's width, in the memory of `spare` if that fits.
signal::Codes codes_for(const WaveformLayout& layout, std::int64_t points, signal::Codes spare);
// Appends a block's codes as signed integers. The bytes are whole codes.
void append_codes(std::string_view bytes, const WaveformLayout& layout, signal::Codes& into);
// The scale for codes so appended: volts = code * scale_v + offset_v.
void set_scale(const WaveformScale& scale, const WaveformLayout& layout, signal::Waveform& into);

}  // namespace eyelevel::phrasebook
