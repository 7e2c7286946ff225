// SPDX-License-Identifier: Apache-2.0
// `eyelevel records pickup`: pickups as things of their own, which move between units.
#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/store_place.hpp"
#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/pickup_book.hpp"
#include "core/record/books/unit_book.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using record::shown;

struct PickupOptions : BookOptions {
  std::string pickup;
  std::string part;
  std::string connector;
  std::string lot;
  std::string label_current;
  std::string fitted_in;
  std::string model;
  std::optional<double> unit_h;
  std::optional<double> pickup_h;
  bool is_new = false;
  bool is_taken_out = false;
};

json::object pickup_json(const record::PickupBook& pickup) {
  json::array stays;
  for (const record::Stay& stay : pickup.stays)
    stays.push_back(json::object{{"serial", or_null(stay.serial)},
                                 {"model", or_null(stay.model)},
                                 {"fitted_utc", utc_json(stay.fitted)},
                                 {"unit_h", or_null(stay.unit_h)},
                                 {"pickup_h", or_null(stay.pickup_h)},
                                 {"taken_out_utc", utc_json(stay.taken_out)},
                                 {"unit_h_out", or_null(stay.unit_h_out)}});
  return {{"pickup", or_null(pickup.name)},
          {"part", or_null(pickup.part)},
          {"connector", or_null(pickup.connector)},
          {"lot", or_null(pickup.lot)},
          {"label_current_a", or_null(pickup.label_current_a)},
          {"stays", std::move(stays)}};
}

std::vector<std::string> pickup_lines(const record::PickupBook& pickup) {
  std::string head = shown(pickup.name);
  if (!pickup.part.empty()) head += ", part " + shown(pickup.part);
  if (!pickup.lot.empty()) head += ", lot " + shown(pickup.lot);
  if (!pickup.connector.empty()) head += ", " + shown(pickup.connector);
  if (pickup.label_current_a) head += ", label " + quantity::print({*pickup.label_current_a, quantity::current});
  std::vector<std::string> lines{head};
  for (const record::Stay& stay : pickup.stays) {
    std::string line =
        fmt::format("  {}  fitted in {} ({})", report::time_text(stay.fitted), shown(stay.serial), shown(stay.model));
    if (stay.pickup_h) line += fmt::format(", with {:g} h of use", *stay.pickup_h);
    if (stay.taken_out) line += "; taken out " + report::time_text(*stay.taken_out);
    lines.push_back(line);
  }
  return lines;
}

std::optional<record::PickupBook> find_pickup(record::Store& store, const std::string& name) {
  record::BookQuery about;
  about.subject = name;
  auto found = record::pickups_of(store.book(about));
  if (found.empty()) return std::nullopt;
  return std::move(found.front());
}

// What goes into the books, all at once.
class PickupEntries {
 public:
  PickupEntries(record::Store& store, const PickupOptions& options, record::Said said)
      : store_(store),
        options_(options),
        said_(std::move(said)),
        name_(record::required_name("the pickup", options.pickup)),
        known_(find_pickup(store, name_)) {}

  void describe() {
    record::PickupDescribed described;
    described.part = record::required_words("--part", options_.part);
    described.connector = record::required_words("--connector", options_.connector);
    described.lot = record::required_words("--lot", options_.lot);
    if (!options_.label_current.empty())
      described.label_current_a = quantity_of("--label-current", options_.label_current, quantity::current);
    if (described.part.empty() && described.connector.empty() && described.lot.empty() && !described.label_current_a)
      return;
    list.push_back(record::entry_of(described, name_, "", said_));
  }

  void take_out() {
    if (!options_.is_taken_out) return;
    const record::Stay* stay = known_ ? known_->inside() : nullptr;
    if (stay == nullptr)
      throw Error(ErrorCode::bad_input, fmt::format("{} is in no unit; nothing was written", shown(name_)),
                  "was another pickup meant? eyelevel records pickup lists them");
    add_taken_out(name_, stay->serial, stay->model);
  }

  // The one that was inside comes out.
  void fit() {
    if (options_.fitted_in.empty()) return;
    require_free();
    const std::string serial = record::required_name("--fitted-in", options_.fitted_in);
    const auto unit = record::find_unit(store_, serial, options_.model);
    std::string model = unit ? unit->model : record::required_name("--model", options_.model);
    if (unit && unit->pickup) {
      add_taken_out(unit->pickup->name, serial, model);
      notices.push_back(fmt::format("{} is taken out of {}", shown(unit->pickup->name), shown(serial)));
    }
    record::PickupFitted fitted;
    fitted.model = std::move(model);
    fitted.unit_h = options_.unit_h ? options_.unit_h : unit ? unit->unit_h : std::nullopt;
    fitted.pickup_h = hours_when_fitted();
    for (auto& caution : record::fitting_cautions(fitted)) notices.push_back(std::move(caution));
    list.push_back(record::entry_of(fitted, name_, serial, said_));
  }

  const std::string& name() const { return name_; }
  std::vector<record::BookEntry> list;
  std::vector<std::string> notices;

 private:
  void require_free() const {
    const record::Stay* stay = known_ ? known_->inside() : nullptr;
    if (stay == nullptr || options_.is_taken_out) return;
    throw Error(ErrorCode::bad_input,
                fmt::format("{} is in {} since {}; nothing was written", shown(name_), shown(stay->serial),
                            report::time_text(stay->fitted)),
                "has it been taken out? say so with --taken-out");
  }

  std::optional<double> hours_when_fitted() const {
    if (options_.is_new && known_ && !known_->stays.empty())
      throw Error(ErrorCode::bad_input,
                  fmt::format("{} has been in {} already: it is not new; nothing was written", shown(name_),
                              shown(known_->stays.back().serial)),
                  "leave --new out, or give the new pickup a name of its own");
    if (options_.is_new) return 0.0;
    if (options_.pickup_h) return options_.pickup_h;
    return known_ ? known_->hours_when_taken_out() : std::nullopt;
  }

  void add_taken_out(const std::string& pickup, const std::string& serial, const std::string& model) {
    const auto unit = record::find_unit(store_, serial, model);
    const auto unit_h = options_.unit_h ? options_.unit_h : unit ? unit->unit_h : std::nullopt;
    list.push_back(record::entry_of(record::PickupTakenOut{model, unit_h}, pickup, serial, said_));
  }

  record::Store& store_;
  const PickupOptions& options_;
  record::Said said_;
  std::string name_;
  std::optional<record::PickupBook> known_;
};

int write_pickup(const PickupOptions& options) {
  const auto said = said_now(options, false);
  const auto store = open_store_to_write(options.store);
  PickupEntries entries(*store, options, said);
  entries.describe();
  entries.take_out();
  entries.fit();
  note(*store, entries.list);
  const auto pickup = find_pickup(*store, entries.name());
  auto told = pickup_json(*pickup);
  told["notices"] = texts_json(entries.notices);
  auto lines = pickup_lines(*pickup);
  for (const std::string& notice : entries.notices) lines.push_back("  note: " + notice);
  tell(options, told, lines);
  return all_met;
}

int show_pickups(const PickupOptions& options) {
  const auto store = open_store_to_read(options.store);
  json::array list;
  std::vector<std::string> lines;
  for (const auto& pickup : record::pickups_of(store->book({}))) {
    if (!options.pickup.empty() && pickup.name != options.pickup) continue;
    list.push_back(pickup_json(pickup));
    for (auto& line : pickup_lines(pickup)) lines.push_back(std::move(line));
  }
  if (list.empty() && !options.pickup.empty())
    throw Error(ErrorCode::not_found,
                fmt::format("the books of {} know no pickup {}", store->name(), shown(options.pickup)),
                "describe it first: eyelevel records pickup NAME --part PART --by NAME");
  if (list.empty()) lines.push_back(fmt::format("No pickups in the books of {}.", store->name()));
  tell(options, list, lines);
  return all_met;
}

bool is_writing(const PickupOptions& options) {
  return !options.part.empty() || !options.connector.empty() || !options.lot.empty() ||
         !options.label_current.empty() || !options.fitted_in.empty() || options.is_taken_out;
}

}  // namespace

void add_pickup_books(CLI::App* records, Chosen& chosen) {
  auto options = std::make_shared<PickupOptions>();
  auto* command =
      records->add_subcommand("pickup", "A pickup and the units that it has been in; all of them without a name");
  command->footer(
      "Example:\n  eyelevel records pickup PU-31 --part P-20 --connector 11-pin --label-current '48.3 mA' "
      "--fitted-in LF2-00417 --new --by anna");
  command->add_option("pickup", options->pickup, "the name that the workshop gives it");
  command->add_option("--part", options->part, "the maker's part number");
  command->add_option("--connector", options->connector, "such as 11-pin");
  command->add_option("--lot", options->lot, "the maker's lot or date code on it");
  command->add_option("--label-current", options->label_current, "laser current on its label, such as '48.3 mA'");
  auto* fitted = command->add_option("--fitted-in", options->fitted_in, "serial of the unit that it is fitted in now");
  command->add_option("--model", options->model, "model of that unit");
  command->add_option("--unit-hours", options->unit_h, "hours of that unit now")->check(CLI::NonNegativeNumber);
  auto* hours = command->add_option("--pickup-hours", options->pickup_h, "hours of use that it has");
  hours->check(CLI::NonNegativeNumber)->needs(fitted);
  command->add_flag("--new", options->is_new, "it is new: no hours of use")->needs(fitted)->excludes(hours);
  command->add_flag("--taken-out", options->is_taken_out, "it is out of the unit that it was in");
  add_writing_options(command, *options);
  command->callback([options, &chosen] {
    chosen = [options] { return is_writing(*options) ? write_pickup(*options) : show_pickups(*options); };
  });
}

}  // namespace eyelevel::program
