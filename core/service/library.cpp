// SPDX-License-Identifier: Apache-2.0
#include "core/service/library.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <system_error>
#include <utility>

#include "core/base/error.hpp"
#include "core/sequence/language/asked.hpp"
#include "core/sequence/language/check.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::service {
namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;

namespace {

const sequence::CheckSetting with_parts{.parts = [](const std::string& file) { return yaml::load_file(file); }};

[[noreturn]] void refuse(std::string_view file, const std::vector<yaml::Mistake>& mistakes) {
  std::string all;
  for (const auto& mistake : mistakes)
    if (mistake.severity == yaml::Severity::error) all += (all.empty() ? "" : "\n") + yaml::print(mistake);
  throw Error(ErrorCode::bad_input, std::move(all), fmt::format("mend {}, then: eyelevel check", file));
}

bool is_yaml(const fs::path& path) { return path.extension() == ".yaml"; }

// Each .yaml file of the folder, by its path in it; an absent folder has none.
std::vector<std::string> files_in(const fs::path& folder) {
  std::vector<std::string> files;
  std::error_code error;
  for (fs::recursive_directory_iterator at(folder, error), end; !error && at != end; at.increment(error))
    if (at->is_regular_file(error) && is_yaml(at->path()))
      files.push_back(fs::relative(at->path(), folder, error).generic_string());
  std::sort(files.begin(), files.end());
  return files;
}

std::map<std::string, std::string> values_of(const std::vector<event::GivenAtStart>& given,
                                             const std::vector<sequence::Asked>& asked, std::string_view file) {
  std::map<std::string, std::string> values;
  std::vector<std::string> names;
  names.reserve(asked.size());
  for (const auto& one : asked) names.push_back(one.name);
  for (const auto& one : given) {
    const auto at = std::find_if(asked.begin(), asked.end(), [&](const auto& a) { return a.name == one.name; });
    if (at == asked.end())
      throw Error(ErrorCode::bad_input, fmt::format("{} does not ask for \"{}\"", file, one.name),
                  yaml::would_be_right(one.name, names, "leave it out"));
    const auto value = sequence::allowed_value(*at, one.value);
    if (!value)
      throw Error(ErrorCode::bad_input, fmt::format("{}: {}", one.name, value.error().message),
                  value.error().suggestion);
    values.insert_or_assign(one.name, one.value);
  }
  return values;
}

}  // namespace

std::vector<Entry> sequences_in(const fs::path& folder, const sequence::Language& language) {
  std::vector<Entry> entries;
  for (const std::string& file : files_in(folder)) {
    auto document = yaml::load_file(folder / file);
    if (document.root.find("sequence") == nullptr) continue;
    if (const auto checked = sequence::check(document, language, with_parts))
      entries.push_back({file, checked->name, checked->about});
  }
  return entries;
}

std::vector<Entry> models_in(const fs::path& folder) {
  std::vector<Entry> entries;
  for (const std::string& file : files_in(folder)) {
    auto document = yaml::load_file(folder / file);
    if (!bench::is_model_sheet(document.root)) continue;
    const auto read = bench::read_model_sheet(std::move(document));
    if (read.mistakes.fine()) entries.push_back({file, read.sheet.model, read.sheet.about});
  }
  return entries;
}

fs::path place_in(const fs::path& folder, std::string_view file) {
  const auto none = [&] {
    std::vector<std::string> files = files_in(folder);
    const auto near = yaml::nearest(file, files);
    return Error(ErrorCode::not_found, fmt::format("there is no \"{}\" in the folder", base::escaped(file)),
                 near ? fmt::format("was {} meant?", *near) : "name one that is listed");
  };
  const fs::path named(file);
  if (file.empty() || file.find('\0') != std::string_view::npos || named.is_absolute() || !is_yaml(named)) throw none();
  std::error_code error;
  const fs::path home = fs::canonical(folder, error);
  if (error) throw none();
  fs::path place = fs::canonical(folder / named, error);
  if (error || !fs::is_regular_file(place, error) || error) throw none();
  const auto [in_home, ignored] = std::mismatch(home.begin(), home.end(), place.begin(), place.end());
  if (in_home != home.end()) throw none();
  return place;
}

sequence::Sequence load_sequence(const fs::path& folder, std::string_view file, const sequence::Language& language,
                                 const std::vector<event::GivenAtStart>& given, Missing missing) {
  auto document = yaml::load_file(place_in(folder, file));
  yaml::Mistakes told_by_the_check(document.file);
  const auto asked = sequence::read_asked(document.root.find("asked at start"), {}, told_by_the_check);
  const auto values = told_by_the_check.fine() ? values_of(given, asked, file) : std::map<std::string, std::string>();
  auto checked = sequence::check(document, language, {.parts = with_parts.parts, .set = values});
  if (!document.mistakes.fine()) refuse(file, document.mistakes.list());
  if (!checked) throw Error(ErrorCode::defect, fmt::format("{}: refused without a mistake", file));
  for (const auto& one : checked->asked)
    if (missing == Missing::refused && one.usual.empty() && !values.contains(one.name))
      throw Error(ErrorCode::bad_input, fmt::format("{} asks for {} ({})", file, one.name, one.about),
                  "allowed is " + one.allowed_text);
  return std::move(*checked);
}

std::optional<bench::ModelSheet> load_model(const fs::path& folder, std::string_view file) {
  if (file.empty()) return std::nullopt;
  auto read = bench::read_model_sheet(place_in(folder, file));
  if (!read.mistakes.fine()) refuse(file, read.mistakes.list());
  return std::move(read.sheet);
}

namespace {

struct Beginning {
  std::string text;  // "LF2-"
  Visit visit;
};

// Of every sheet that can be used.
std::vector<Beginning> beginnings_in(const fs::path& models) {
  std::vector<Beginning> all;
  for (const auto& file : files_in(models)) {
    const auto read = bench::read_model_sheet(models / file);
    if (!read.mistakes.fine() || !read.sheet.visit) continue;
    for (const auto& prefix : read.sheet.visit->prefixes) all.push_back({prefix, {file, read.sheet.visit->sequence}});
  }
  return all;
}

std::string told(const std::vector<Beginning>& all) {
  std::string text;
  for (const auto& one : all) text += fmt::format("{}{} ({})", text.empty() ? "" : ", ", one.text, one.visit.model);
  return text;
}

}  // namespace

Visit visit_of(const fs::path& models, std::string_view serial) {
  const auto all = beginnings_in(models);
  std::vector<Beginning> longest;
  for (const auto& one : all) {
    if (!serial.starts_with(one.text)) continue;
    if (!longest.empty() && longest.front().text.size() > one.text.size()) continue;
    if (!longest.empty() && longest.front().text.size() < one.text.size()) longest.clear();
    longest.push_back(one);
  }
  if (longest.size() == 1) return longest.front().visit;
  if (longest.size() > 1)
    throw Error(ErrorCode::bad_input,
                fmt::format("{} may be of several models: {}", base::escaped(serial, 100), told(longest)),
                "take the beginning out of all sheets but one, or queue the job by hand");
  if (all.empty())
    throw Error(ErrorCode::bad_input, "no model sheet says how serial numbers of its model begin",
                "add to one: visit: {serials begin with: [LF2-], sequence: ready/pickup-level.yaml}");
  throw Error(
      ErrorCode::bad_input,
      fmt::format("{} is of no model that is known; serials begin with {}", base::escaped(serial, 100), told(all)),
      "scan it again, or add its beginning to the sheet of its model");
}

void require_fit(const sequence::Sequence& sequence, const bench::BenchFile& bench,
                 const std::optional<bench::ModelSheet>& model) {
  yaml::Mistakes mistakes(sequence.file);
  sequence::check_on_bench(sequence, bench, mistakes);
  sequence::check_on_model(sequence, model ? &*model : nullptr, mistakes);
  if (!mistakes.fine()) refuse(sequence.file, mistakes.list());
}

}  // namespace eyelevel::service
