// SPDX-License-Identifier: Apache-2.0
// `eyelevel reference`: what good units of a model read, and from where that is known.
#include <fmt/format.h>

#include <algorithm>

#include "core/base/error.hpp"
#include "core/program/eyelevel/book_options.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/store_place.hpp"
#include "core/quantity/dimension.hpp"
#include "core/quantity/text.hpp"
#include "core/record/books/names.hpp"
#include "core/record/books/reference_book.hpp"
#include "core/record/find_runs.hpp"
#include "core/report/build_reference.hpp"
#include "core/report/words.hpp"

namespace eyelevel::program {

namespace {

namespace json = boost::json;
using base::Error;
using base::ErrorCode;
using record::shown;

struct ReferenceCommand : BookOptions {
  std::string model;
  std::string reading;
  std::string disc;
  std::string setting;
  std::string expires;
  // build
  std::vector<std::string> runs;
  bool passed = false;
  std::string sequence;
  std::vector<std::string> without;
  double share = 0.95;
  double confidence = 0.95;
  std::string sides = "both";
  std::string provenance;
  // set
  std::string at_least;
  std::string at_most;
  std::string service_data;
  std::string read_as;
  // withdraw
  std::string source = "units";
};

json::object reference_json(const record::Reference& reference, const std::string& day, bool stands) {
  const auto& said = reference.said;
  json::array units;
  for (const record::ReferenceUnit& unit : said.units)
    units.push_back(
        json::object{{"serial", or_null(unit.serial)}, {"value", unit.value}, {"runs", texts_json(unit.runs)}});
  return {{"model", or_null(reference.model)},
          {"reading", or_null(reference.reading)},
          {"disc", or_null(said.disc)},
          {"setting", or_null(said.setting)},
          {"unit", or_null(said.unit)},
          {"at_least", or_null(said.limit.at_least)},
          {"at_most", or_null(said.limit.at_most)},
          {"source", or_null(said.source)},
          {"stands_in", or_null(said.stands_in)},
          {"read_as", or_null(said.read_as)},
          {"provenance", or_null(said.provenance)},
          {"expires", or_null(said.expires)},
          {"expired", reference.is_expired(day)},
          {"stands", stands},
          {"units", std::move(units)},
          {"doubtful", texts_json(said.doubtful)},
          {"mean", or_null(said.mean)},
          {"sd", or_null(said.sd)},
          {"factor", or_null(said.factor)},
          {"share", or_null(said.share)},
          {"confidence", or_null(said.confidence)},
          {"set_utc", utc_json(reference.set)},
          {"by", or_null(reference.by)},
          {"because", or_null(reference.because)}};
}

std::string source_text(const record::ReferenceSet& said) {
  if (said.source == "service data")
    return fmt::format("service data ({}{})", shown(said.stands_in, 120),
                       said.read_as.empty() ? "" : ", read as " + said.read_as);
  std::string text = fmt::format("{} units, {:g} % of all with {:g} % confidence", said.units.size(),
                                 100 * said.share.value_or(0), 100 * said.confidence.value_or(0));
  if (!said.provenance.empty()) text += ", " + said.provenance;
  if (!said.doubtful.empty()) text += fmt::format("; {} does not fit among them", fmt::join(said.doubtful, ", "));
  return text;
}

std::string reference_line(const record::Reference& reference, const std::string& day, bool stands) {
  const auto& said = reference.said;
  std::string line = fmt::format("{} {}: {}", shown(reference.model), shown(reference.reading),
                                 report::limit_text(said.limit, said.unit));
  if (!said.disc.empty()) line += ", disc " + shown(said.disc);
  if (!said.setting.empty()) line += ", " + shown(said.setting);
  line += fmt::format("; from {}; {} by {}", source_text(said), report::time_text(reference.set), shown(reference.by));
  if (!said.expires.empty()) line += (reference.is_expired(day) ? "; expired on " : "; until ") + said.expires;
  if (!stands && !reference.is_expired(day)) line += "; service data win over it";
  return line;
}

struct Standing {
  std::vector<record::Reference> all;
  std::string day = today();

  bool stands(const record::Reference& one) const {
    return record::standing_reference(all, one.model, one.reading, one.said.disc, one.said.setting, day) == &one;
  }
};

Standing read_references(record::Store& store, const std::string& model) {
  record::BookQuery about;
  if (!model.empty()) about.subject = model;
  return {record::references_of(store.book(about))};
}

// Of two sources that say of one reading what cannot both be true.
std::vector<std::string> contradictions(const Standing& known) {
  std::vector<std::string> list;
  for (const auto& a : known.all)
    for (const auto& b : known.all)
      if (a.said.source == "service data" && b.said.source == "units" && a.model == b.model && a.reading == b.reading &&
          (a.said.disc.empty() || a.said.disc == b.said.disc) && a.said.unit == b.said.unit &&
          record::contradict(a.said.limit, b.said.limit))
        list.push_back(
            fmt::format("{} {}: the units say {}, the service data {}: no value meets both; is the service "
                        "data read as it was meant?",
                        shown(a.model), shown(a.reading), report::limit_text(b.said.limit, b.said.unit),
                        report::limit_text(a.said.limit, a.said.unit)));
  return list;
}

void tell_references(const ReferenceCommand& options, const Standing& known, const std::vector<std::string>& warnings) {
  json::array list;
  std::vector<std::string> lines;
  for (const auto& one : known.all) {
    if (!options.reading.empty() && one.reading != options.reading) continue;
    list.push_back(reference_json(one, known.day, known.stands(one)));
    lines.push_back(reference_line(one, known.day, known.stands(one)));
  }
  if (lines.empty()) lines.emplace_back("No reference is known.");
  for (const std::string& warning : warnings) lines.push_back("warning: " + warning);
  tell(options, json::object{{"references", std::move(list)}, {"warnings", texts_json(warnings)}}, lines);
}

int show(const ReferenceCommand& options) {
  const auto store = open_store_to_read(options.store);
  const auto known = read_references(*store, options.model);
  tell_references(options, known, contradictions(known));
  return all_met;
}

int keep(const ReferenceCommand& options, record::Store& store, record::ReferenceSet set, const record::Said& said,
         std::vector<std::string> warnings) {
  if (!options.expires.empty()) day_of_option("--expires", options.expires);
  set.expires = options.expires;
  if (!options.setting.empty()) set.setting = record::required_name("--setting", options.setting);
  record::require_usable(set);
  const auto entry = record::entry_of(set, options.model, options.reading, said);
  note(store, std::span(&entry, 1));
  const auto known = read_references(store, options.model);
  for (auto& one : contradictions(known)) warnings.push_back(std::move(one));
  tell_references(options, known, warnings);
  return all_met;
}

// Those that were named, or all that passed, which are good as far as this workshop's limits know.
std::vector<record::RunRecord> runs_of(record::Store& store, const ReferenceCommand& options) {
  std::vector<record::RunRecord> list;
  for (const std::string& run : options.runs) list.push_back(record::read_run(store, run));
  if (!options.passed) return list;
  record::RunQuery query;
  query.model = options.model;
  query.sequence = options.sequence;
  query.judgement = metrology::Judgement::pass;
  query.at_most = static_cast<std::size_t>(-1);
  for (const record::RunSummary& run : record::find_runs(store, query)) list.push_back(record::read_run(store, run.id));
  return list;
}

metrology::population::Sides sides_named(const std::string& words) {
  using metrology::population::Sides;
  if (words == "both") return Sides::both;
  if (words == "at least") return Sides::at_least;
  if (words == "at most") return Sides::at_most;
  throw Error(ErrorCode::bad_input, fmt::format("--sides: \"{}\" is none", shown(words)),
              "both, 'at least' or 'at most'");
}

int build(const ReferenceCommand& options) {
  const auto said = said_now(options, false);
  if (options.passed == !options.runs.empty())
    throw Error(ErrorCode::bad_input, "which units are known to be good? nothing was written",
                "name their runs with --run, or take all that passed a sequence: --passed --sequence NAME");
  if (options.passed && options.sequence.empty())
    throw Error(ErrorCode::bad_input, "--passed: of which sequence? nothing was written", "name it with --sequence");
  report::ReferenceWish wish;
  wish.model = record::required_name("the model", options.model);
  wish.reading = record::required_name("--reading", options.reading);
  wish.disc = record::required_words("--disc", options.disc);
  wish.without = {options.without.begin(), options.without.end()};
  wish.options.stated = {options.share, options.confidence};
  wish.options.sides = sides_named(options.sides);
  const auto store = open_store_to_write(options.store);
  auto built = report::build_reference(runs_of(*store, options), wish);
  built.set.provenance = options.provenance;
  if (options.passed)
    built.warnings.emplace_back(
        "units were taken because they passed: their spread is narrower than that of all good ones");
  for (const std::string& serial : options.without)
    built.warnings.push_back(fmt::format("{} was left out by hand", shown(serial)));
  return keep(options, *store, std::move(built.set), said, std::move(built.warnings));
}

// One side of a limit in SI units; the unit of measure comes out with it.
std::optional<double> side_of(const char* what, const std::string& text, std::optional<quantity::Dimension>& of) {
  if (text.empty()) return std::nullopt;
  const auto parsed = quantity::parse_quantity(text);
  if (!parsed)
    throw Error(ErrorCode::bad_input, fmt::format("{}: {}", what, parsed.error().message), parsed.error().suggestion);
  if (parsed->dimension == quantity::ratio && text.find('%') == std::string::npos)
    throw Error(ErrorCode::bad_input, fmt::format("{}: {} has no unit; nothing was written", what, shown(text)),
                "write '1.08 V', or '35 %' for a ratio");
  if (of && *of != parsed->dimension)
    throw Error(ErrorCode::bad_input, "--at-least and --at-most are of two kinds; nothing was written",
                "write both in one unit");
  of = parsed->dimension;
  return parsed->si;
}

int set_by_hand(const ReferenceCommand& options) {
  const auto said = said_now(options, false);
  if (options.service_data.empty())
    throw Error(ErrorCode::bad_input, "from where are these limits? nothing was written",
                "name document and place with --service-data");
  record::required_name("the model", options.model);
  record::required_name("--reading", options.reading);
  record::ReferenceSet set;
  std::optional<quantity::Dimension> dimension;
  set.limit.at_least = side_of("--at-least", options.at_least, dimension);
  set.limit.at_most = side_of("--at-most", options.at_most, dimension);
  if (dimension) set.unit = *dimension == quantity::ratio ? "1" : quantity::unit_of(*dimension);
  set.source = "service data";
  set.stands_in = record::required_words("--service-data", options.service_data);
  set.disc = record::required_words("--disc", options.disc);
  set.read_as = options.read_as;
  const auto store = open_store_to_write(options.store);
  return keep(options, *store, std::move(set), said, {});
}

int withdraw(const ReferenceCommand& options) {
  const auto said = said_now(options, true);
  const auto store = open_store_to_write(options.store);
  const auto known = read_references(*store, options.model);
  const auto found = std::find_if(known.all.begin(), known.all.end(), [&](const record::Reference& one) {
    return one.reading == options.reading && one.said.disc == options.disc && one.said.setting == options.setting &&
           one.said.source == options.source;
  });
  if (found == known.all.end())
    throw Error(ErrorCode::not_found, "there is no such reference; nothing was written",
                "eyelevel reference lists them with disc and setting");
  const auto entry = record::entry_of(record::ReferenceWithdrawn{options.disc, options.setting, options.source},
                                      options.model, options.reading, said);
  note(*store, std::span(&entry, 1));
  tell_references(options, read_references(*store, options.model), {});
  return all_met;
}

CLI::App* inner(CLI::App* reference, const char* name, const char* about, const char* example,
                ReferenceCommand& options) {
  auto* command = reference->add_subcommand(name, about);
  command->footer(std::string("Example:\n  ") + example);
  command->add_option("model", options.model, "the model of the units")->required();
  command->add_option("--reading", options.reading, "name of the reading")->required();
  command->add_option("--disc", options.disc, "the kind of disc, such as pressed; without it, whatever disc");
  command->add_option("--setting", options.setting, "what the workshop calls the setting; usual: the sequence");
  add_writing_options(command, options);
  return command;
}

void add_build(CLI::App* reference, Chosen& chosen) {
  auto options = std::make_shared<ReferenceCommand>();
  auto* command = inner(reference, "build", "Limits from several known good units",
                        "eyelevel reference build LF-2 --reading level_pressed --disc pressed --passed --sequence "
                        "pickup-level --provenance factory-set --by anna",
                        *options);
  command->add_option("--run", options->runs, "a run of a known good unit; may be repeated");
  command->add_flag("--passed", options->passed, "all runs that passed --sequence");
  command->add_option("--sequence", options->sequence, "the sequence of --passed");
  command->add_option("--without", options->without, "serial of a unit that is left out; may be repeated");
  command->add_option("--share", options->share, "share of all good units that the limits hold (usual: 0.95)");
  command->add_option("--confidence", options->confidence, "how sure that is (usual: 0.95)");
  command->add_option("--sides", options->sides, "both, 'at least' or 'at most'");
  command->add_option("--provenance", options->provenance, "of the units")
      ->check(CLI::IsMember({"factory-set", "serviced"}));
  command->add_option("--expires", options->expires, "the last day on which it holds");
  command->callback([options, &chosen] { chosen = [options] { return build(*options); }; });
}

void add_set(CLI::App* reference, Chosen& chosen) {
  auto options = std::make_shared<ReferenceCommand>();
  auto* command =
      inner(reference, "set", "Limits from the maker's service data, which win over those from units",
            "eyelevel reference set LF-2 --reading level_pressed --disc pressed --at-least '1.08 V' "
            "--at-most '1.32 V' --service-data 'service manual LF-2, 5.2' --read-as 'outer edges' --by anna",
            *options);
  command->add_option("--at-least", options->at_least, "with its unit: '1.08 V'");
  command->add_option("--at-most", options->at_most, "with its unit: '1.32 V'");
  command->add_option("--service-data", options->service_data, "the document and the place in it");
  command->add_option("--read-as", options->read_as, "how it was meant to be read")
      ->check(CLI::IsMember({"settled levels", "outer edges"}));
  command->add_option("--expires", options->expires, "the last day on which it holds");
  command->callback([options, &chosen] { chosen = [options] { return set_by_hand(*options); }; });
}

void add_withdraw(CLI::App* reference, Chosen& chosen) {
  auto options = std::make_shared<ReferenceCommand>();
  auto* command =
      inner(reference, "withdraw", "A reference holds no more; what it was stays in the books",
            "eyelevel reference withdraw LF-2 --reading level_pressed --disc pressed --setting pickup-level "
            "--because 'LF2-00012 was not good' --by anna",
            *options);
  command->add_option("--source", options->source, "'units' (usual) or 'service data'")
      ->check(CLI::IsMember({"units", "service data"}));
  command->callback([options, &chosen] { chosen = [options] { return withdraw(*options); }; });
}

}  // namespace

void add_reference(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<ReferenceCommand>();
  auto* command = subcommand(app, "reference", "What good units of a model read, and from where that is known",
                             "eyelevel reference --model LF-2");
  command->require_subcommand(0, 1);
  command->add_option("--model", options->model, "only of this model");
  command->add_option("--reading", options->reading, "only of this reading");
  add_store_options(command, *options);
  add_build(command, chosen);
  add_set(command, chosen);
  add_withdraw(command, chosen);
  command->callback([options, command, &chosen] {
    if (command->get_subcommands().empty())
      chosen = [options] { return show(*options); };
    else
      chosen = [part = command->get_subcommands().front(), then = chosen] {
        require_options_behind(*part);
        return then();
      };
  });
}

}  // namespace eyelevel::program
