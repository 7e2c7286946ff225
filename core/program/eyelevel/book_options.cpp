// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyelevel/book_options.hpp"

#include <fmt/format.h>

#include <boost/asio/io_context.hpp>
#include <boost/json/string.hpp>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/output.hpp"
#include "core/quantity/text.hpp"
#include "core/record/books/names.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/words.hpp"
#include "core/yaml/date.hpp"

namespace eyelevel::program {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;

void add_store_options(CLI::App* command, BookOptions& options) {
  command->add_option(
      "--store", options.store,
      "the store (a file, or postgresql://USER@HOST:PORT/DATABASE); usual: under $XDG_STATE_HOME/eyelevel");
  command->add_flag("--json", options.as_json, "print JSON");
}

void add_writing_options(CLI::App* command, BookOptions& options) {
  add_store_options(command, options);
  command->add_option("--by", options.by, "who says it");
  command->add_option("--because", options.because, "why");
}

void require_options_behind(const CLI::App& part) {
  for (const CLI::Option* option : part.get_parent()->get_options())
    if (option->count() > 0)
      throw Error(ErrorCode::bad_input,
                  fmt::format("{} stands before {} and would be overlooked", option->get_name(), part.get_name()),
                  fmt::format("write it behind {}", part.get_name()));
}

base::UtcTime utc_now() {
  boost::asio::io_context loop(1);
  return base::wall_timeline(loop)->utc();
}

std::string today() { return record::utc_text(utc_now()).substr(0, 10); }

base::UtcTime day_of_option(std::string_view what, const std::string& day) {
  if (!yaml::is_date(day))
    throw Error(ErrorCode::bad_input, fmt::format("{}: expected a day, found \"{}\"", what, base::escaped(day, 40)),
                "write it as 2030-01-07");
  return record::utc_from_text(day + "T00:00:00.000Z");
}

record::Said said_now(const BookOptions& options, bool needs_reason) {
  if (options.by.empty())
    throw Error(ErrorCode::bad_input, "who says it? nothing was written", "name yourself with --by");
  record::Said said{utc_now(), record::required_name("--by", options.by),
                    record::required_words("--because", options.because)};
  if (needs_reason && said.because.empty())
    throw Error(ErrorCode::bad_input, "why? nothing was written", "give the reason with --because");
  return said;
}

std::vector<record::BookEntry> note(record::Store& store, std::span<const record::BookEntry> entries) {
  auto kept = store.note(entries);
  if (!kept.empty() && record::is_out_of_time(kept.front()))
    put(stderr, fmt::format("eyelevel: the clock of this computer says {}, but the books hold an entry of {}: what was "
                            "said now is kept behind it; set the clock\n",
                            report::time_text(kept.front().utc), report::time_text(kept.front().placed)));
  return kept;
}

void tell(const BookOptions& options, const json::value& value, std::span<const std::string> lines) {
  if (options.as_json) {
    fmt::print("{}\n", record::text_of(value));
    return;
  }
  for (const std::string& line : lines) fmt::print("{}\n", line);
}

json::value or_null(const std::optional<double>& value) { return value ? json::value(*value) : json::value(nullptr); }

json::value or_null(const std::string& text) {
  return text.empty() ? json::value(nullptr) : json::string(record::clean_utf8(text));
}

json::value utc_json(const std::optional<base::UtcTime>& utc) {
  return utc ? json::value(json::string(record::utc_text(*utc))) : json::value(nullptr);
}

json::array texts_json(std::span<const std::string> texts) {
  json::array list;
  for (const std::string& text : texts) list.push_back(json::string(record::clean_utf8(text)));
  return list;
}

double quantity_of(std::string_view what, const std::string& text, quantity::Dimension dimension) {
  const auto parsed = quantity::parse_quantity(text, dimension);
  if (!parsed)
    throw Error(ErrorCode::bad_input, fmt::format("{}: {}", what, parsed.error().message), parsed.error().suggestion);
  return *parsed;
}

}  // namespace eyelevel::program
