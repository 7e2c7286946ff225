// SPDX-License-Identifier: Apache-2.0
// A run as files for other programs: readings as CSV (RFC 4180), the whole run as JSON (format "eyelevel run", version
// 1: the entry of `run --json` and every event), captures as .npy codes with a JSON beside that holds their scale
// (volts = code * scale_v + offset_v), or as CSV of time and volts. Files are named after the run.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "core/record/run_record.hpp"

namespace eyelevel::report {

std::string readings_csv(const record::RunRecord& run);

// Samples stand in the .npy files only.
std::string whole_run_json(record::Store& store, const record::RunRecord& run);

struct ExportWish {
  bool readings_csv = true;
  bool json = true;
  bool captures_npy = true;
  bool captures_csv = false;
};

// Makes the folder when it is absent; files of the same name are replaced. Captures without stored samples are left
// out. Returns what was written, in order. Throws Error(bad_input) naming the path that could not be written.
std::vector<std::filesystem::path> export_run(record::Store& store, const record::RunRecord& run,
                                              const std::filesystem::path& folder, const ExportWish& wish = {});

// Throws Error(bad_input) naming the path.
void write_file(const std::filesystem::path& path, std::string_view bytes);

}  // namespace eyelevel::report
