// SPDX-License-Identifier: Apache-2.0
// Sequences, bench files, model sheets and lists of test discs as the command line names them: loaded, checked, with
// every mistake told.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "core/bench/bench_file.hpp"
#include "core/bench/model_sheet.hpp"
#include "core/bench/test_discs.hpp"
#include "core/sequence/language/sequence.hpp"
#include "core/sequence/language/verb.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::program {

// Mistakes of one file, whatever it is: a bench file, a model sheet, a list of test discs, schedules, a phrasebook,
// expectations, or else a sequence.
std::vector<yaml::Mistake> check_file(const std::string& path, const sequence::Language& language);

// The same of a sequence that is to run on this bench, held against it; other files as above.
std::vector<yaml::Mistake> check_file(const std::string& path, const sequence::Language& language,
                                      const bench::BenchFile& bench);

// These print mistakes to stderr and throw base::Error(bad_input) when the file cannot be used; warnings are only
// printed.
// `set`: NAME=VALUE for what the sequence asks at its start; what is not set takes its usual value. With `ask`, each of
// those is asked for; without it, what has no usual value must be set.
using AskAtStart = std::function<std::string(const sequence::Asked&)>;
sequence::Sequence load_sequence(const std::string& path, const sequence::Language& language,
                                 const std::vector<std::string>& set = {}, const AskAtStart& ask = {});
bench::BenchFile load_bench(const std::string& path);
bench::ModelSheet load_model(const std::string& path);
bench::TestDiscs load_test_discs(const std::string& path);
// Holds the sequence against the bench and the model sheet (null: nobody named one).
void require_fit(const sequence::Sequence& sequence, const bench::BenchFile& bench, const bench::ModelSheet* model);

// Those that are compiled in: the invented bench and model of examples/.
bench::BenchFile embedded_bench();
bench::ModelSheet embedded_model();

}  // namespace eyelevel::program
