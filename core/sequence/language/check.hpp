// SPDX-License-Identifier: Apache-2.0
// From a YAML document to a checked sequence. All mistakes are collected in document.mistakes, each at its place and
// with what would be right; nothing is run from a file that has one. Files of parts are read by the caller's function.
#pragma once

#include <map>
#include <optional>
#include <string>

#include "core/sequence/language/part.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/sequence/language/verb.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::bench {
struct BenchFile;
struct ModelSheet;
}  // namespace eyelevel::bench

namespace eyelevel::sequence {

struct CheckSetting {
  PartFiles parts = {};                         // empty: a sequence with parts has a mistake
  std::map<std::string, std::string> set = {};  // values for what is asked at the start; see allowed_value()
};

// Empty when the document has a mistake (warnings do not count). Mistakes of parts are in its list, with their own
// file.
std::optional<Sequence> check(yaml::Document& document, const Language& language, const CheckSetting& setting = {});

// Holds a checked sequence against the bench it is to run on: every role is there, of the right kind; the probe factor
// of `set up` is that of the bench file; no limit is narrower than what the bench can state. Mistakes are at the
// sequence's lines.
void check_on_bench(const Sequence& sequence, const bench::BenchFile& bench, yaml::Mistakes& mistakes);

// Holds it against the model sheet of the unit, null where nobody named one: nothing is adjusted by a level that says
// nothing of the light, no trimmer is turned live where no service data allow it.
void check_on_model(const Sequence& sequence, const bench::ModelSheet* model, yaml::Mistakes& mistakes);

}  // namespace eyelevel::sequence
