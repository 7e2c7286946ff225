// SPDX-License-Identifier: Apache-2.0
#include "core/program/waveform_file.hpp"

#include <fmt/format.h>

#include <boost/json.hpp>
#include <filesystem>

#include "core/base/error.hpp"
#include "core/signal/npy.hpp"
#include "core/signal/raw.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

void take(std::optional<double>& into, const json::object& from, const char* key) {
  const auto* value = from.if_contains(key);
  if (!into && value != nullptr && value->is_number()) into = value->to_number<double>();
}

// Fills what the command line left open from NAME.json beside NAME.npy. Other files carry volts and rate themselves: a
// CSV that was exported beside them must not be scaled once more.
void read_sidecar(const std::string& path, signal::ReadOptions& options, std::vector<std::string>& assumed) {
  const auto sidecar = std::filesystem::path(path).replace_extension(".json");
  if (options.rate_hz || sidecar == path || !std::filesystem::is_regular_file(sidecar)) return;
  const base::MappedFile file(sidecar);
  boost::system::error_code error;
  const auto value = json::parse(file.text(), error);
  if (error || !value.is_object()) return;
  take(options.rate_hz, value.as_object(), "rate_hz");
  take(options.scale_v, value.as_object(), "scale_v");
  take(options.offset_v, value.as_object(), "offset_v");
  if (options.rate_hz) assumed.push_back("rate and scale as " + sidecar.string() + " says");
}

}  // namespace

std::unique_ptr<WaveformFile> open_waveform(const std::string& path, const WaveformReading& reading) {
  auto result = std::make_unique<WaveformFile>(WaveformFile{base::MappedFile(path), nullptr, {}});
  const base::MappedFile& file = result->file;
  signal::ReadOptions options;
  options.name = path;
  options.rate_hz = reading.rate_hz;
  options.scale_v = reading.scale_v;
  options.offset_v = reading.offset_v;
  options.channel = reading.channel;
  if (reading.format) options.format = signal::raw_format_named(*reading.format);
  if (!options.format && signal::is_npy(file.bytes())) read_sidecar(path, options, result->assumed);
  result->samples = signal::open_waveform(file.bytes(), options,
                                          [&file](std::size_t from, std::size_t to) { file.release(from, to); });
  const auto& assumed = result->samples->assumed();
  result->assumed.insert(result->assumed.end(), assumed.begin(), assumed.end());
  return result;
}

}  // namespace eyelevel::program
