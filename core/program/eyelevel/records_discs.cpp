// SPDX-License-Identifier: Apache-2.0
// `eyelevel records disc`: what becomes of the test discs. What they are stands in the list of test discs.
#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/files.hpp"
#include "core/program/store_place.hpp"
#include "core/quantity/text.hpp"
#include "core/record/books/disc_book.hpp"
#include "core/record/books/names.hpp"
#include "core/report/words.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using record::shown;

struct DiscOptions : BookOptions {
  std::string disc;
  std::string list;
  std::string master;
  std::string level;
  std::string expires;
  std::string found;
  std::string bad;
  std::string cleaned;
};

// Identity and condition of one disc.
struct KnownDisc {
  record::DiscBook book;
  std::optional<bench::TestDisc> listed;
};

json::object disc_json(const KnownDisc& disc, const std::vector<std::string>& doubts) {
  const auto& book = disc.book;
  json::array inspections, cleaned;
  for (const record::Inspection& one : book.inspections)
    inspections.push_back(json::object{
        {"utc", utc_json(one.utc)}, {"by", or_null(one.by)}, {"found", or_null(one.found)}, {"good", one.good}});
  for (const base::UtcTime& at : book.cleaned) cleaned.push_back(utc_json(at));
  return {{"disc", or_null(book.name)},
          {"mark", disc.listed ? or_null(disc.listed->mark) : json::value(nullptr)},
          {"kind", disc.listed ? or_null(disc.listed->kind) : json::value(nullptr)},
          {"master", or_null(book.master)},
          {"level", or_null(book.level)},
          {"level_expanded_uncertainty", or_null(book.level_half_width)},
          {"expires", or_null(book.expires)},
          {"inspections", std::move(inspections)},
          {"cleaned_utc", std::move(cleaned)},
          {"doubts", texts_json(doubts)}};
}

std::vector<std::string> disc_lines(const KnownDisc& disc, const std::vector<std::string>& doubts) {
  const auto& book = disc.book;
  std::string head = shown(book.name);
  if (disc.listed) head += fmt::format(", {}, {}", disc.listed->kind, disc.listed->mark);
  if (book.master == book.name)
    head += ", the master disc";
  else if (book.level)
    head += fmt::format(", {} of {}", report::value_text(*book.level, book.level_half_width.value_or(0), "1"),
                        shown(book.master));
  if (!book.expires.empty()) head += ", expires " + book.expires;
  std::vector<std::string> lines{head};
  for (const record::Inspection& one : book.inspections)
    lines.push_back(fmt::format("  {}  {} found: {}{}", report::time_text(one.utc), shown(one.by),
                                shown(one.found, 200), one.good ? "" : " (not to be used)"));
  for (const base::UtcTime& at : book.cleaned) lines.push_back(fmt::format("  {}  cleaned", report::time_text(at)));
  for (const std::string& doubt : doubts) lines.push_back("  doubt: " + doubt);
  return lines;
}

std::vector<KnownDisc> known_discs(record::Store& store, const DiscOptions& options) {
  std::vector<KnownDisc> all;
  for (auto& book : record::discs_of(store.book({}))) all.push_back({std::move(book), std::nullopt});
  if (options.list.empty()) return all;
  for (const bench::TestDisc& disc : load_test_discs(options.list).list) {
    const auto known = std::find_if(all.begin(), all.end(), [&](const auto& k) { return k.book.name == disc.name; });
    KnownDisc& one = known != all.end() ? *known : all.emplace_back();
    one.book.name = disc.name;
    one.listed = disc;
  }
  return all;
}

int show_discs(const DiscOptions& options) {
  const auto store = open_store_to_read(options.store);
  const std::string day = today();
  json::array list;
  std::vector<std::string> lines, names;
  for (const KnownDisc& disc : known_discs(*store, options)) {
    names.push_back(disc.book.name);
    if (!options.disc.empty() && disc.book.name != options.disc) continue;
    const auto doubts = disc.book.doubts(day);
    list.push_back(disc_json(disc, doubts));
    for (auto& line : disc_lines(disc, doubts)) lines.push_back(std::move(line));
  }
  if (list.empty() && !options.disc.empty())
    throw Error(ErrorCode::not_found, fmt::format("no test disc {} is known", shown(options.disc)),
                yaml::would_be_right(options.disc, names, "name the list of test discs with --test-discs"));
  if (list.empty()) lines.push_back(fmt::format("No test discs in the books of {}.", store->name()));
  tell(options, list, lines);
  return all_met;
}

record::DiscDescribed described(const DiscOptions& options) {
  record::DiscDescribed said;
  if (!options.master.empty()) said.master = record::required_name("--master", options.master);
  if (!options.expires.empty()) day_of_option("--expires", options.expires);
  said.expires = options.expires;
  if (options.level.empty()) return said;
  const auto span = quantity::parse_span(options.level, quantity::ratio);
  if (!span || !span->nominal || !span->low || !span->high || !(*span->low > 0))
    throw Error(ErrorCode::bad_input,
                fmt::format("--level: \"{}\" is no level above 0 with its uncertainty", shown(options.level)),
                "write it relative to the master disc's, with its 95 % interval: '0.98 ± 0.02'");
  said.level = *span->nominal;
  said.level_half_width = *span->high - *span->nominal;
  return said;
}

int write_disc(const DiscOptions& options) {
  const auto said = said_now(options, false);
  const std::string name = record::required_name("the disc", options.disc);
  const auto store = open_store_to_write(options.store);
  if (!options.list.empty()) {
    const auto listed = load_test_discs(options.list).list;
    std::vector<std::string> names;
    for (const auto& disc : listed) names.push_back(disc.name);
    if (std::find(names.begin(), names.end(), name) == names.end())
      throw Error(ErrorCode::bad_input,
                  fmt::format("{} does not stand in {}; nothing was written", shown(name), options.list),
                  yaml::would_be_right(name, names, "add it there"));
  }
  std::vector<record::BookEntry> entries;
  const auto form = described(options);
  if (form.level && form.master.empty()) {
    const auto known = known_discs(*store, options);
    const auto one = std::find_if(known.begin(), known.end(), [&](const auto& k) { return k.book.name == name; });
    if (one == known.end() || one->book.master.empty())
      throw Error(ErrorCode::bad_input, "--level: relative to which disc? nothing was written",
                  "name the workshop's master disc with --master");
  }
  if (!form.master.empty() || form.level || !form.expires.empty())
    entries.push_back(record::entry_of(form, name, "", said));
  if (!options.cleaned.empty())
    entries.push_back(
        record::entry_of(record::DiscCleaned{record::required_words("--cleaned", options.cleaned)}, name, "", said));
  if (!options.found.empty())
    entries.push_back(record::entry_of(
        record::DiscInspected{record::required_words("--inspected", options.found), true}, name, "", said));
  if (!options.bad.empty())
    entries.push_back(
        record::entry_of(record::DiscInspected{record::required_words("--bad", options.bad), false}, name, "", said));
  note(*store, entries);
  return show_discs(options);
}

bool is_writing(const DiscOptions& options) {
  return !options.master.empty() || !options.level.empty() || !options.expires.empty() || !options.found.empty() ||
         !options.bad.empty() || !options.cleaned.empty();
}

}  // namespace

void add_disc_books(CLI::App* records, Chosen& chosen) {
  auto options = std::make_shared<DiscOptions>();
  auto* command =
      records->add_subcommand("disc", "A test disc: level, inspection, cleaning, expiry; all without a name");
  command->footer(
      "Example:\n  eyelevel records disc TD-2 --master TD-1 --level '0.98 ± 0.02' --inspected 'no scratch' "
      "--expires 2031-01-31 --by anna");
  command->add_option("disc", options->disc, "its name in the list of test discs");
  command->add_option("--test-discs", options->list, "the list of test discs, which says mark and kind");
  command->add_option("--master", options->master, "the workshop's master disc; its own name: it is the master");
  command->add_option("--level", options->level, "its level relative to the master disc's with its 95 % interval");
  command->add_option("--expires", options->expires, "the last day on which it may be used");
  command->add_option("--inspected", options->found, "what an inspection found of a disc that is good");
  command->add_option("--bad", options->bad, "what an inspection found of a disc that is not to be used");
  command->add_option("--cleaned", options->cleaned, "how it was cleaned");
  add_writing_options(command, *options);
  command->callback([options, &chosen] {
    chosen = [options] { return is_writing(*options) ? write_disc(*options) : show_discs(*options); };
  });
}

}  // namespace eyelevel::program
