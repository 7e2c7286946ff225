// SPDX-License-Identifier: Apache-2.0
// Any bytes as a waveform header, found by number and by key, and as codes: refused with reasons, or a scale of finite
// numbers.
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <vector>

#include "core/base/error.hpp"
#include "instruments/phrasebook/waveform_layout.hpp"

using namespace eyelevel;
using phrasebook::WaveformLayout;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const std::string_view text(exact.data(), exact.size());
  WaveformLayout layout;
  for (const auto form : {WaveformLayout::Header::numbered, WaveformLayout::Header::keyed}) {
    const bool by_number = form == WaveformLayout::Header::numbered;
    layout.header = form;
    layout.points = by_number ? "3" : "POINTS";
    layout.interval = by_number ? "5" : "INTERVAL";
    layout.step = by_number ? "8" : "MULT";
    layout.origin_volts = by_number ? "9" : "ZERO";
    layout.reference_code = by_number ? "10" : "OFFSET";
    try {
      const auto scale = phrasebook::scale_from(text, layout);
      if (scale.points < 0 || !(scale.interval_s > 0) || !std::isfinite(scale.step_v)) std::abort();
    } catch (const base::Error&) {  // NOLINT(bugprone-empty-catch): refused
    }
  }
  for (const int bits : {8, 16}) {
    layout.bits = bits;
    signal::Codes codes = phrasebook::codes_for(layout, 0, {});
    phrasebook::append_codes(text.substr(0, text.size() / 2 * 2), layout, codes);
  }
  return 0;
}
