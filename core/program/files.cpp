// SPDX-License-Identifier: Apache-2.0
#include "core/program/files.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "core/base/error.hpp"
#include "core/program/embedded.hpp"
#include "core/program/output.hpp"
#include "core/sequence/language/asked.hpp"
#include "core/sequence/language/check.hpp"
#include "core/service/retention.hpp"
#include "core/service/schedule.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/nearest.hpp"
#include "instruments/phrasebook/phrasebook.hpp"
#include "instruments/plugin/manifest.hpp"
#include "sim/rehearsal/expect.hpp"
#include "sim/rehearsal/week.hpp"

namespace eyelevel::program {
namespace {

void tell(const std::vector<yaml::Mistake>& mistakes) {
  for (const auto& mistake : mistakes) put(stderr, yaml::print(mistake) + "\n");
}

void require_fine(const std::string& file, const yaml::Mistakes& mistakes) {
  tell(mistakes.list());
  if (mistakes.fine()) return;
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("{} cannot be used as it stands; nothing was touched", file),
                    fmt::format("mend what is listed above, then: eyelevel check {}", file));
}

const sequence::CheckSetting with_parts{.parts = [](const std::string& file) { return yaml::load_file(file); }};

}  // namespace

std::vector<yaml::Mistake> check_file(const std::string& path, const sequence::Language& language) {
  auto document = yaml::load_file(path);
  if (bench::is_bench_file(document.root)) return bench::read_bench_file(std::move(document)).mistakes.list();
  if (bench::is_model_sheet(document.root)) return bench::read_model_sheet(std::move(document)).mistakes.list();
  if (phrasebook::is_phrasebook(document.root)) return phrasebook::read_phrasebook(std::move(document)).mistakes.list();
  if (bench::is_test_discs(document.root)) return bench::read_test_discs(std::move(document)).mistakes.list();
  if (service::is_schedules(document.root))
    return service::read_schedules(std::move(document), [](const record::Job&) { return std::string(); })
        .mistakes.list();
  if (service::is_retention(document.root)) return service::read_retention(std::move(document)).mistakes.list();
  if (sim::is_expectations(document.root))
    return sim::read_expectations(std::move(document), sim::ready_troubles()).mistakes.list();
  if (sim::is_week(document.root)) return sim::read_week(std::move(document), sim::ready_troubles()).mistakes.list();
  if (plugin::is_manifest(document.root))
    return plugin::read_manifest(std::filesystem::absolute(path).parent_path(), std::move(document)).mistakes.list();
  sequence::check(document, language, with_parts);
  return document.mistakes.list();
}

std::vector<yaml::Mistake> check_file(const std::string& path, const sequence::Language& language,
                                      const bench::BenchFile& bench) {
  auto document = yaml::load_file(path);
  const auto& root = document.root;
  if (bench::is_bench_file(root) || bench::is_model_sheet(root) || phrasebook::is_phrasebook(root) ||
      bench::is_test_discs(root) || service::is_schedules(root) || sim::is_expectations(root) || sim::is_week(root) ||
      service::is_retention(root) || plugin::is_manifest(root))
    return check_file(path, language);
  if (const auto sequence = sequence::check(document, language, with_parts))
    sequence::check_on_bench(*sequence, bench, document.mistakes);
  return document.mistakes.list();
}

namespace {

// NAME=VALUE, held against what the sequence asks.
std::map<std::string, std::string> values_set(const std::vector<std::string>& set,
                                              const std::vector<sequence::Asked>& all) {
  std::map<std::string, std::string> values;
  std::vector<std::string> names;
  names.reserve(all.size());
  for (const auto& asked : all) names.push_back(asked.name);
  for (const std::string& text : set) {
    const std::size_t at = text.find('=');
    const std::string name = text.substr(0, at);
    const auto asked = std::find_if(all.begin(), all.end(), [&](const auto& a) { return a.name == name; });
    if (at == std::string::npos)
      throw base::Error(base::ErrorCode::bad_input, fmt::format("--set '{}' sets nothing", text),
                        "write --set NAME=VALUE");
    if (asked == all.end())
      throw base::Error(base::ErrorCode::bad_input, fmt::format("--set: the sequence does not ask for '{}'", name),
                        yaml::would_be_right(name, names, "leave it out"));
    const auto value = sequence::allowed_value(*asked, text.substr(at + 1));
    if (!value)
      throw base::Error(base::ErrorCode::bad_input, fmt::format("--set {}: {}", name, value.error().message),
                        value.error().suggestion);
    values.insert_or_assign(name, text.substr(at + 1));
  }
  return values;
}

// Asks until an answer may be used; an empty one is what is usual.
std::string answer(const sequence::Asked& asked, const AskAtStart& ask) {
  for (;;) {
    std::string text = ask(asked);
    if (text.empty() && !asked.usual.empty()) return asked.usual;
    const auto value = sequence::allowed_value(asked, text);
    if (value) return text;
    put(stderr, fmt::format("{}; {}\n", value.error().message, value.error().suggestion));
  }
}

// Nobody is asked for the sake of a sequence that cannot be used.
void require_usable(const std::string& path, yaml::Document document, const sequence::Language& language) {
  sequence::check(document, language, with_parts);
  if (!document.mistakes.fine()) require_fine(path, document.mistakes);
}

}  // namespace

sequence::Sequence load_sequence(const std::string& path, const sequence::Language& language,
                                 const std::vector<std::string>& set, const AskAtStart& ask) {
  auto document = yaml::load_file(path);
  yaml::Mistakes told_below(path);  // by the check, with all others
  const auto asked = sequence::read_asked(document.root.find("asked at start"), {}, told_below);
  std::map<std::string, std::string> values;
  if (told_below.fine()) {
    values = values_set(set, asked);
    if (ask && values.size() < asked.size()) {
      require_usable(path, document, language);
      for (const auto& one : asked)
        if (!values.contains(one.name)) values.emplace(one.name, answer(one, ask));
    }
  }
  const auto sequence = sequence::check(document, language, {.parts = with_parts.parts, .set = values});
  require_fine(path, document.mistakes);
  if (!sequence) throw base::Error(base::ErrorCode::defect, path + ": refused without a mistake");
  for (const auto& one : sequence->asked)
    if (one.usual.empty() && !values.contains(one.name))
      throw base::Error(base::ErrorCode::bad_input, fmt::format("{} asks for {} ({})", path, one.name, one.about),
                        fmt::format("say it with --set {}=VALUE, allowed is {}", one.name, one.allowed_text));
  return *sequence;
}

bench::BenchFile load_bench(const std::string& path) {
  auto read = bench::read_bench_file(path);
  require_fine(path, read.mistakes);
  return std::move(read.bench);
}

bench::ModelSheet load_model(const std::string& path) {
  auto read = bench::read_model_sheet(path);
  require_fine(path, read.mistakes);
  return std::move(read.sheet);
}

bench::TestDiscs load_test_discs(const std::string& path) {
  auto read = bench::read_test_discs(path);
  require_fine(path, read.mistakes);
  return std::move(read.discs);
}

void require_fit(const sequence::Sequence& sequence, const bench::BenchFile& bench, const bench::ModelSheet* model) {
  yaml::Mistakes mistakes(sequence.file);
  sequence::check_on_bench(sequence, bench, mistakes);
  sequence::check_on_model(sequence, model, mistakes);
  require_fine(sequence.file, mistakes);
}

bench::BenchFile embedded_bench() {
  auto read = bench::read_bench_file(yaml::load_text("examples/bench.yaml", embedded::bench_yaml));
  require_fine("examples/bench.yaml", read.mistakes);
  return std::move(read.bench);
}

bench::ModelSheet embedded_model() {
  auto read = bench::read_model_sheet(yaml::load_text("examples/models/lf-2.yaml", embedded::model_yaml));
  require_fine("examples/models/lf-2.yaml", read.mistakes);
  return std::move(read.sheet);
}

}  // namespace eyelevel::program
