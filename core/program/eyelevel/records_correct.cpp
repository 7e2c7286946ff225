// SPDX-License-Identifier: Apache-2.0
// `eyelevel records correct RUN`: what is said of a run afterwards. Nothing that was recorded changes.
#include <fmt/format.h>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/records.hpp"
#include "core/program/store_place.hpp"
#include "core/quantity/text.hpp"
#include "core/quantity/unit.hpp"
#include "core/record/books/names.hpp"
#include "core/record/run_record.hpp"
#include "core/report/run_json.hpp"
#include "core/report/words.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using record::shown;

struct CorrectOptions : BookOptions {
  std::string run;
  std::string reading;
  std::string value;
  std::string serial;
  std::string model;
  bool does_not_count = false;
};

const metrology::Reading& reading_of(const record::RunRecord& run, const std::string& name) {
  std::vector<std::string> names;
  for (const metrology::Reading& reading : run.readings) {
    if (reading.name == name) return reading;
    names.push_back(reading.name);
  }
  throw Error(ErrorCode::not_found,
              fmt::format("run {} has no reading {}; nothing was written", run.summary.id, shown(name)),
              yaml::would_be_right(name, names, "it has no readings"));
}

// In the unit of the reading.
double value_in(const metrology::Reading& reading, const std::string& text) {
  const auto unit =
      reading.unit == "1" ? std::optional<quantity::UnitFound>(quantity::UnitFound{}) : quantity::unit_at(reading.unit);
  if (!unit || (reading.unit != "1" && unit->length != reading.unit.size()))
    throw Error(ErrorCode::bad_input,
                fmt::format("--value: {} is in {}, which cannot be typed", shown(reading.name), shown(reading.unit)),
                "say with --does-not-count that it is not to be used");
  return (quantity_of("--value", text, unit->unit.dimension) - unit->unit.zero) / unit->unit.factor;
}

record::Corrected corrected(const record::RunRecord& run, const CorrectOptions& options) {
  record::Corrected said;
  if (!options.serial.empty()) said.serial = record::required_name("--serial", options.serial);
  if (!options.model.empty()) said.model = record::required_name("--model", options.model);
  if (!options.reading.empty()) {
    const auto& reading = reading_of(run, options.reading);
    said.reading = reading.name;
    said.counts = !options.does_not_count;
    if (!options.value.empty()) said.value = value_in(reading, options.value);
  }
  return said;
}

int correct(const CorrectOptions& options) {
  const auto said = said_now(options, true);
  const auto store = open_store_to_write(options.store);
  const auto run = record::read_run(*store, options.run);
  if (!run.is_closed())
    throw Error(ErrorCode::bad_input, fmt::format("run {} is not closed; nothing was written", run.summary.id),
                "correct it when it has ended");
  const auto form = corrected(run, options);
  const auto& serial = form.serial.empty() ? run.summary.serial : form.serial;
  const auto entry = record::entry_of(form, run.summary.id, serial, said);
  note(*store, std::span(&entry, 1));
  const auto now = record::read_run(*store, run.summary.id);
  tell(options, report::unit_json(now), report::correction_texts(now));
  return all_met;
}

}  // namespace

void add_corrections(CLI::App* records, Chosen& chosen) {
  auto options = std::make_shared<CorrectOptions>();
  auto* command = records->add_subcommand("correct", "Says of a run what is right; what was recorded stays beside it");
  command->footer(
      "Example:\n  eyelevel records correct 2030-01-07-3 --reading level_pressed --does-not-count --because "
      "'the probe had slipped' --by anna");
  command->add_option("run", options->run, "its id as `eyelevel records` lists it, or: last")->required();
  auto* reading = command->add_option("--reading", options->reading, "name of the reading");
  auto* value = command->add_option("--value", options->value, "its right value, such as '1.21 V'")->needs(reading);
  command->add_flag("--does-not-count", options->does_not_count, "the reading is not to be used")
      ->needs(reading)
      ->excludes(value);
  command->add_option("--serial", options->serial, "the unit's right serial");
  command->add_option("--model", options->model, "the unit's right model");
  add_writing_options(command, *options);
  command->callback([options, &chosen] { chosen = [options] { return correct(*options); }; });
}

}  // namespace eyelevel::program
