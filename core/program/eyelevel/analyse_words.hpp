// SPDX-License-Identifier: Apache-2.0
// What the pages and the JSON of `eyelevel analyse` have in common: how a figure, a time and a content are written.
#pragma once

#include <boost/json/value.hpp>
#include <optional>
#include <string>
#include <string_view>

#include "core/disc/analysis.hpp"

namespace eyelevel::program {

// null where there is none, or where it is no number.
boost::json::value number(const std::optional<double>& value);

// Milliseconds below a second.
std::string duration_text(double seconds);

// Minutes, seconds and frames with a colon between.
std::string clock_text(const disc::MinSecFrame& t);

std::string_view content_text(disc::Content content);

// A line of a page: the value times `factor`, or "-" where there is none.
void print_figure(std::string_view name, const std::optional<double>& value, double factor, int digits,
                  std::string_view unit, std::string_view say = {});

}  // namespace eyelevel::program
