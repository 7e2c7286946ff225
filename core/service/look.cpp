// SPDX-License-Identifier: Apache-2.0
#include "core/service/look.hpp"

#include <algorithm>
#include <bit>
#include <boost/json.hpp>
#include <cmath>
#include <cstring>
#include <span>
#include <utility>

#include "core/disc/analysis.hpp"
#include "core/disc/picture/eye_fold.hpp"
#include "core/quantity/dimension.hpp"

namespace eyelevel::service {

namespace json = boost::json;
using disc::picture::EyeDensity;

namespace {

static_assert(std::endian::native == std::endian::little, "the feed's numbers are little-endian");

template <class Number>
void append(std::string& to, Number number) {
  char bytes[sizeof(Number)];
  std::memcpy(bytes, &number, sizeof(Number));
  to.append(bytes, sizeof(Number));
}

json::value or_null(const std::optional<double>& value) { return value ? json::value(*value) : json::value(nullptr); }

constexpr std::size_t rows_shown = 96;
constexpr float fading = 0.75F;  // of what was seen before, at each capture

// The counts on a fixed number of rows, row 0 on top, added to what is left of the earlier ones.
void add(std::vector<float>& cells, const EyeDensity& density) {
  cells.resize(rows_shown * EyeDensity::columns, 0);
  for (float& cell : cells) cell *= fading;
  for (std::size_t row = 0; row < density.rows; ++row) {
    const std::size_t shown = rows_shown - 1 - row * rows_shown / density.rows;
    for (std::size_t column = 0; column < EyeDensity::columns; ++column)
      cells[shown * EyeDensity::columns + column] +=
          static_cast<float>(density.counts[row * EyeDensity::columns + column]);
  }
}

// The densest cell is 255; the square root shows what is rare.
std::vector<std::uint8_t> shades(const std::vector<float>& cells) {
  std::vector<std::uint8_t> list(cells.size(), 0);
  const float most = *std::max_element(cells.begin(), cells.end());
  if (most <= 0) return list;
  std::transform(cells.begin(), cells.end(), list.begin(),
                 [most](float cell) { return static_cast<std::uint8_t>(std::lround(255 * std::sqrt(cell / most))); });
  return list;
}

}  // namespace

std::string EyeLook::bytes() const {
  std::string all = "EYE1";
  append(all, width);
  append(all, height);
  append(all, low_v);
  append(all, high_v);
  append(all, periods);
  all.append(density.begin(), density.end());
  return all;
}

std::string Look::json() const {
  return json::serialize(json::object{{"kind", "look"},
                                      {"signal", signal},
                                      {"name", name},
                                      {"level_v", or_null(level_v)},
                                      {"level_expanded_v", or_null(level_expanded_v)},
                                      {"at_least", or_null(at_least_v)},
                                      {"at_most", or_null(at_most_v)},
                                      {"kept", kept},
                                      {"tried", tried}});
}

Looker::Looker(const sequence::Sequence& sequence) {
  const sequence::NamedLimit* only = nullptr;
  int voltages = 0;
  for (const auto& limit : sequence.limits)
    if (limit.dimension == quantity::voltage) {
      only = &limit;
      ++voltages;
    }
  if (voltages != 1) return;
  look_.at_least_v = only->limit.at_least;
  look_.at_most_v = only->limit.at_most;
}

bool Looker::take(const metrology::Reading& reading) {
  if (reading.unit != "V" || look_.name.empty()) return false;
  look_.level_v = reading.value;
  look_.level_expanded_v = reading.interval.expanded_uncertainty;
  return true;
}

bool Looker::take(const event::Captured& captured, bool draws) {
  if (captured.name != look_.name) {
    cells_.clear();
    look_.kept = look_.tried = 0;
  }
  look_.signal = captured.signal;
  look_.name = captured.name;
  look_.tried += 1;
  look_.kept += captured.not_kept.empty() ? 1 : 0;
  if (!draws || !captured.waveform) return false;
  look_.level_expanded_v.reset();
  draw(*captured.waveform);
  return true;
}

void Looker::draw(const signal::Waveform& waveform) {
  const EyeLook before = std::exchange(look_.eye, {});
  look_.level_v.reset();
  if (!waveform.screen || !(waveform.screen->low_v < waveform.screen->high_v)) return;
  const auto view = waveform.view();
  disc::picture::EyeFold fold(view, waveform.screen->low_v, waveform.screen->high_v);
  disc::AnalysisOptions options;
  options.subcode_wanted = options.errors_wanted = false;
  options.on_runs = [&fold](const signal::CodesView& samples, std::span<const disc::eye::Run> runs) {
    fold.take(samples, runs);
  };
  look_.level_v = disc::analyse(view, options).level.peak_to_peak_v;
  const EyeDensity& density = fold.result();
  const auto low_v = static_cast<float>(density.low_v), high_v = static_cast<float>(density.high_v());
  if (before.low_v != low_v || before.high_v != high_v) cells_.clear();
  add(cells_, density);
  look_.eye = {.width = static_cast<std::uint16_t>(EyeDensity::columns),
               .height = static_cast<std::uint16_t>(rows_shown),
               .low_v = low_v,
               .high_v = high_v,
               .periods = static_cast<float>(EyeDensity::bits_before + EyeDensity::bits_after),
               .density = shades(cells_)};
}

}  // namespace eyelevel::service
