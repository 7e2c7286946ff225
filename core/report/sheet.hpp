// SPDX-License-Identifier: Apache-2.0
// The sheet that goes with the unit: one page A4 (ISO 216), the same as PNG, SVG or PDF, and the same bytes for the
// same run. What does not fit on the page is said to be left out, never dropped silently.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "core/report/canvas.hpp"
#include "core/report/sheet_content.hpp"

namespace eyelevel::report {

// By the end of the name: .png, .svg, .pdf. Throws Error(bad_input) on any other.
Format format_of(const std::filesystem::path& path);

std::string draw_sheet(const SheetContent& content, Format format);
// The words on the sheet, in the order in which they are drawn, cut where the drawing cuts them.
std::vector<std::string> words_on_sheet(const SheetContent& content);

// Throws Error(bad_input) when the file cannot be written.
void write_sheet(const SheetContent& content, const std::filesystem::path& path);

}  // namespace eyelevel::report
