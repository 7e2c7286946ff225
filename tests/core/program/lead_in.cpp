// SPDX-License-Identifier: Apache-2.0
// For analyse_test_discs.py: `lead_in FILE SECONDS` writes an .npy of volts at 9 MSa/s, so much of the lead-in of a
// disc with three tracks, each item of its table of contents three times in a row (ECMA-130 2nd ed. 22.3.4).
#include <array>
#include <cstdlib>
#include <fstream>

#include "core/signal/npy.hpp"
#include "tests/support/eye_renderer.hpp"

int main(int count, char** arguments) {
  using namespace eyelevel;
  using disc::subcode::ContentsItem;
  if (count != 3) return 2;
  const std::array items{ContentsItem{.control = 0, .point = 1, .running = {}, .p_time = {0, 2, 0}},
                         ContentsItem{.control = 0, .point = 2, .running = {}, .p_time = {4, 26, 50}},
                         ContentsItem{.control = 0, .point = 3, .running = {}, .p_time = {9, 8, 11}},
                         ContentsItem{.control = 0, .point = 0xA0, .running = {}, .p_time = {1, 0, 0}},
                         ContentsItem{.control = 0, .point = 0xA1, .running = {}, .p_time = {3, 0, 0}},
                         ContentsItem{.control = 0, .point = 0xA2, .running = {}, .p_time = {12, 51, 60}}};
  support::EyeSettings settings;
  settings.rate_hz = 9e6;
  settings.duration_s = std::strtod(arguments[2], nullptr);
  settings.q = [&](int section) {
    ContentsItem item = items[static_cast<std::size_t>(section / 3) % items.size()];
    item.running = disc::subcode::time_of(section);
    return disc::subcode::build_contents_q(item);
  };
  const auto bytes = signal::write_npy(support::render(settings).view());
  std::ofstream file(arguments[1], std::ios::binary);
  file.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
  return file.flush() ? 0 : 1;
}
