// SPDX-License-Identifier: Apache-2.0
// The sequences and model sheets that a daemon may use: the files of two folders, named by their path in it. Nothing
// outside is read, whatever the name. All calls read files and block.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/event/event.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/sequence/language/verb.hpp"

namespace eyelevel::service {

struct Entry {
  std::string file;  // "ready/pickup-level.yaml"
  std::string name;
  std::string about;
};

// Those that can be used, by file.
std::vector<Entry> sequences_in(const std::filesystem::path& folder, const sequence::Language& language);
std::vector<Entry> models_in(const std::filesystem::path& folder);

// Where the file lies. Throws Error(not_found) when it is no .yaml file in the folder, as links lead.
std::filesystem::path place_in(const std::filesystem::path& folder, std::string_view file);

// Whether a value that the sequence asks at its start, and that has no usual one, may be missing: to explain it.
enum class Missing { refused, allowed };
// Checked, with the values that were given. Throws Error(bad_input) that tells every mistake.
sequence::Sequence load_sequence(const std::filesystem::path& folder, std::string_view file,
                                 const sequence::Language& language, const std::vector<event::GivenAtStart>& given,
                                 Missing missing = Missing::refused);
// What a serial number that is scanned begins: the visit of the model whose serials begin so. The longest beginning
// counts. Throws Error(bad_input), with every beginning that is known, when there is none or two sheets have the same.
struct Visit {
  std::string model;     // "lf-2.yaml"
  std::string sequence;  // "ready/pickup-level.yaml"
};
Visit visit_of(const std::filesystem::path& models, std::string_view serial);

// Empty where nobody named one.
std::optional<bench::ModelSheet> load_model(const std::filesystem::path& folder, std::string_view file);
// Throws Error(bad_input) that tells every mistake.
void require_fit(const sequence::Sequence& sequence, const bench::BenchFile& bench,
                 const std::optional<bench::ModelSheet>& model);

}  // namespace eyelevel::service
