// SPDX-License-Identifier: Apache-2.0
// What the commands that write into the books share: who says it and why, where it goes, and what is told afterwards.
#pragma once

#include <CLI/CLI.hpp>
#include <boost/json/array.hpp>
#include <boost/json/object.hpp>
#include <boost/json/value.hpp>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "core/quantity/dimension.hpp"
#include "core/record/books/body.hpp"
#include "core/record/store/store.hpp"

namespace eyelevel::program {

struct BookOptions {
  std::string store;
  std::string by;
  std::string because;
  bool as_json = false;
};

// --store and --json.
void add_store_options(CLI::App* command, BookOptions& options);
// --by and --because, too.
void add_writing_options(CLI::App* command, BookOptions& options);

// Of a command with parts: what was given before the part would be overlooked. Throws base::Error(bad_input).
void require_options_behind(const CLI::App& part);

// Now, by the person named with --by. Throws base::Error(bad_input) without one, or where words cannot be kept.
record::Said said_now(const BookOptions& options, bool needs_reason);

// Writes them, all or none, and tells of a clock that went back.
std::vector<record::BookEntry> note(record::Store& store, std::span<const record::BookEntry> entries);

// Prints the lines, or the JSON.
void tell(const BookOptions& options, const boost::json::value& json, std::span<const std::string> lines);

boost::json::value or_null(const std::optional<double>& value);
boost::json::value or_null(const std::string& text);
// "2030-01-07T08:00:00.000Z"
boost::json::value utc_json(const std::optional<base::UtcTime>& utc);
boost::json::array texts_json(std::span<const std::string> texts);

// "48.3 mA" in amperes; `what` is the option. Throws base::Error(bad_input) as the quantity's own words say it.
double quantity_of(std::string_view what, const std::string& text, quantity::Dimension dimension);
// Today by UTC, "2030-01-07".
std::string today();
base::UtcTime utc_now();
// A day as a time, its beginning by UTC. Throws base::Error(bad_input).
base::UtcTime day_of_option(std::string_view what, const std::string& day);

}  // namespace eyelevel::program
