// SPDX-License-Identifier: Apache-2.0
// `eyelevel records take-in | hand-back | unit`: the visits of a unit.
#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/store_place.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/unit_book.hpp"
#include "core/record/find_runs.hpp"
#include "core/report/run_json.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using record::shown;

struct UnitOptions : BookOptions {
  std::string serial;
  std::string model;
  std::string complaint;
  std::optional<double> unit_h;
};

std::string named(const record::UnitBook& unit) {
  return unit.model.empty() ? shown(unit.serial) : fmt::format("{} ({})", shown(unit.serial), shown(unit.model));
}

std::string hours_text(double hours) { return fmt::format("{:g} h", hours); }

json::object visit_json(const record::Visit& visit) {
  return {{"taken_in_utc", utc_json(visit.taken_in)},       {"by", or_null(visit.by)},
          {"complaint", or_null(visit.complaint)},          {"unit_h", or_null(visit.unit_h)},
          {"handed_back_utc", utc_json(visit.handed_back)}, {"told", or_null(visit.told)}};
}

json::object unit_book_json(const record::UnitBook& unit) {
  json::array visits;
  for (const record::Visit& visit : unit.visits) visits.push_back(visit_json(visit));
  json::value pickup = nullptr;
  if (unit.pickup)
    pickup = json::object{{"pickup", or_null(unit.pickup->name)},
                          {"since_utc", utc_json(unit.pickup->since)},
                          {"pickup_h", or_null(unit.pickup_h())}};
  return {{"serial", or_null(unit.serial)}, {"model", or_null(unit.model)}, {"here", unit.is_here()},
          {"unit_h", or_null(unit.unit_h)}, {"visits", std::move(visits)},  {"pickup", std::move(pickup)}};
}

std::string visit_line(const record::Visit& visit) {
  std::string line = fmt::format("  {}  taken in by {}: {}", report::time_text(visit.taken_in), shown(visit.by),
                                 shown(visit.complaint, 200));
  if (visit.unit_h) line += ", " + hours_text(*visit.unit_h);
  if (visit.handed_back) line += "; handed back " + report::time_text(*visit.handed_back);
  return line;
}

std::vector<std::string> unit_lines(const record::UnitBook& unit) {
  std::vector<std::string> lines{named(unit) + (unit.is_here() ? ", in the workshop" : "")};
  for (const record::Visit& visit : unit.visits) lines.push_back(visit_line(visit));
  if (!unit.pickup) return lines;
  const auto hours = unit.pickup_h();
  lines.push_back(fmt::format("  pickup {} since {}, {}", shown(unit.pickup->name),
                              report::time_text(unit.pickup->since),
                              hours ? hours_text(*hours) + " of use" : std::string("hours of use not known")));
  return lines;
}

// Units of the same serial and another model: two labels that look alike.
std::vector<std::string> namesakes(const std::vector<record::UnitBook>& units, const std::string& serial,
                                   const std::string& model) {
  std::vector<std::string> list;
  for (const record::UnitBook& other : units)
    if (other.serial == serial && other.model != model)
      list.push_back(
          fmt::format("there is another unit of the serial {}, of the model {}: from here on --model tells "
                      "them apart, and in runs a serial of its own does, such as {}/2",
                      shown(serial), shown(other.model), shown(serial)));
  return list;
}

int take_in(const UnitOptions& options) {
  const std::string serial = record::required_name("the serial", options.serial);
  const std::string model = record::required_name("--model", options.model);
  const std::string complaint = record::required_words("--complaint", options.complaint);
  if (complaint.empty())
    throw Error(ErrorCode::bad_input, "what is wrong with it? nothing was written",
                "say what the owner said with --complaint");
  const auto said = said_now(options, false);
  const auto store = open_store_to_write(options.store);
  const auto units = record::units_of(record::entries_about(*store, serial));
  const auto known =
      std::find_if(units.begin(), units.end(), [&](const auto& u) { return u.serial == serial && u.model == model; });
  if (known != units.end() && known->is_here())
    throw Error(ErrorCode::bad_input,
                fmt::format("{} was taken in at {} and has not been handed back; nothing was written", named(*known),
                            report::time_text(known->visits.back().taken_in)),
                fmt::format("is this another unit of the same serial? give it one of its own, such as {}/2, and write "
                            "that on it; is it the same one, hand it back first",
                            shown(serial)));
  auto notices = namesakes(units, serial, model);
  if (known != units.end() && known->unit_h && options.unit_h && *options.unit_h < *known->unit_h)
    notices.push_back(fmt::format("its hours went back: {} were told before, {} now", hours_text(*known->unit_h),
                                  hours_text(*options.unit_h)));
  const auto entry = record::entry_of(record::TakenIn{model, complaint, options.unit_h}, serial, "", said);
  note(*store, std::span(&entry, 1));
  const auto unit = record::find_unit(*store, serial, model);
  auto lines = unit_lines(*unit);
  lines.insert(lines.end(), notices.begin(), notices.end());
  auto told = unit_book_json(*unit);
  told["notices"] = texts_json(notices);
  tell(options, told, lines);
  return all_met;
}

record::UnitBook require_unit(record::Store& store, const UnitOptions& options) {
  auto unit = record::find_unit(store, options.serial, options.model);
  if (unit) return std::move(*unit);
  throw Error(ErrorCode::not_found,
              fmt::format("the books of {} know no unit {}{}", store.name(), shown(options.serial),
                          options.model.empty() ? "" : " of the model " + shown(options.model)),
              "take it in first: eyelevel records take-in SERIAL --model MODEL --complaint WORDS --by NAME");
}

int hand_back(const UnitOptions& options) {
  const auto said = said_now(options, false);
  const auto store = open_store_to_write(options.store);
  const auto unit = require_unit(*store, options);
  if (!unit.is_here())
    throw Error(ErrorCode::bad_input, fmt::format("{} is not in the workshop; nothing was written", named(unit)),
                "was another unit meant? eyelevel records unit lists its visits");
  const auto entry = record::entry_of(record::HandedBack{unit.model}, unit.serial, "", said);
  note(*store, std::span(&entry, 1));
  const auto now = record::find_unit(*store, unit.serial, unit.model);
  tell(options, unit_book_json(*now), unit_lines(*now));
  return all_met;
}

int show_unit(const UnitOptions& options) {
  const auto store = open_store_to_read(options.store);
  record::RunQuery query;
  query.serial = options.serial;
  if (!options.model.empty()) query.model = options.model;
  const auto runs = record::find_runs(*store, query);
  auto units = record::units_of(record::entries_about(*store, options.serial));
  std::erase_if(units, [&](const record::UnitBook& u) {
    return u.serial != options.serial || (!options.model.empty() && u.model != options.model);
  });
  if (units.empty() && runs.empty()) require_unit(*store, options);
  json::array all, run_list;
  std::vector<std::string> lines;
  for (const record::UnitBook& unit : units) {
    all.push_back(unit_book_json(unit));
    for (auto& line : unit_lines(unit)) lines.push_back(std::move(line));
  }
  if (units.size() > 1)
    lines.push_back(fmt::format("{} units have this serial; --model shows one of them", units.size()));
  for (const record::RunSummary& run : runs) {
    run_list.push_back(report::summary_json(run));
    lines.push_back("  run " + run_line(run));
  }
  tell(options, json::object{{"units", std::move(all)}, {"runs", std::move(run_list)}}, lines);
  return all_met;
}

CLI::App* unit_command(CLI::App* records, const char* name, const char* about, const char* example,
                       UnitOptions& options) {
  auto* command = records->add_subcommand(name, about);
  command->footer(std::string("Example:\n  ") + example);
  command->add_option("serial", options.serial, "serial number of the unit")->required();
  command->add_option("--model", options.model, "its model; tells apart two units of one serial");
  return command;
}

}  // namespace

void add_unit_books(CLI::App* records, Chosen& chosen) {
  auto options = std::make_shared<UnitOptions>();
  auto* in = unit_command(records, "take-in", "A unit comes into the workshop",
                          "eyelevel records take-in LF2-00417 --model LF-2 --complaint 'skips on the last tracks' "
                          "--hours 1200 --by anna",
                          *options);
  in->add_option("--complaint", options->complaint, "what its owner says");
  in->add_option("--hours", options->unit_h, "hours of use, where they are known")->check(CLI::NonNegativeNumber);
  add_writing_options(in, *options);
  in->callback([options, &chosen] { chosen = [options] { return take_in(*options); }; });
  auto* back = unit_command(records, "hand-back", "A unit leaves the workshop",
                            "eyelevel records hand-back LF2-00417 --because 'plays all discs' --by anna", *options);
  add_writing_options(back, *options);
  back->callback([options, &chosen] { chosen = [options] { return hand_back(*options); }; });
  auto* show = unit_command(records, "unit", "What is known of a unit: visits, pickup, runs",
                            "eyelevel records unit LF2-00417", *options);
  add_store_options(show, *options);
  show->callback([options, &chosen] { chosen = [options] { return show_unit(*options); }; });
}

}  // namespace eyelevel::program
