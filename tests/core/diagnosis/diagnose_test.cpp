// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/diagnose.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <set>

#include "core/base/error.hpp"
#include "tests/core/diagnosis/judgement_table.hpp"

using namespace eyelevel;
using namespace eyelevel::diagnosis;
using test::cause;
using test::judgement_table;

namespace {

// All that is measured before anything is asked for; which value does not matter for the overlap.
std::vector<Observation> all_measured() {
  std::vector<Observation> all;
  for (const Evidence& evidence : evidences())
    if (!evidence.check) all.push_back(observe_told(evidence.id, evidence.values.front().id));
  return all;
}

double overlap_of(std::string_view a, std::string_view b) {
  return overlap(judgement_table(), all_measured(), cause(a), cause(b));
}

// A usual unit but for what is said.
std::vector<Observation> seen(std::vector<std::pair<std::string_view, std::string_view>> but) {
  std::vector<Observation> all;
  for (const Evidence& evidence : evidences()) {
    if (evidence.check) continue;
    std::string_view value = evidence.id == "focus"     ? "one"
                             : evidence.id == "discs"   ? "alike"
                             : evidence.id == "trimmer" ? "follows"
                                                        : "ok";
    for (const auto& [id, other] : but)
      if (id == evidence.id) value = other;
    all.push_back(observe_told(evidence.id, value));
  }
  return all;
}

const std::vector<std::pair<std::string_view, std::string_view>> dark_and_dirty{
    {"level", "low"}, {"top", "low"}, {"rise", "low"}, {"i3_over_i11", "low"}, {"jitter", "raised"}, {"discs", "weak"}};

}  // namespace

TEST_CASE("diagnose: causes overlap as they do in the table of judgement", "[diagnosis]") {
  // Computed apart from this code, to two digits, from the table before its probabilities were rounded to 0.001.
  CHECK(overlap_of("lens_dirty", "mirror_dirty") == Approx(0.99).margin(0.0075));
  CHECK(overlap_of("tracking_balance", "radial_tilt") == Approx(0.96).margin(0.0075));
  CHECK(overlap_of("disc_weak", "disc_wrong_kind") == Approx(0.82).margin(0.0075));
  CHECK(overlap_of("worn_laser_no_loop", "level_low") == Approx(0.88).margin(0.0075));
  CHECK(overlap_of("worn_laser_no_loop", "mirror_dirty") == Approx(0.80).margin(0.0075));
  CHECK(overlap_of("worn_laser_no_loop", "lens_dirty") == Approx(0.75).margin(0.0075));
  CHECK(overlap_of("focus_offset", "focus_gain") == Approx(0.73).margin(0.0075));
  CHECK(overlap_of("level_low", "mirror_dirty") == Approx(0.82).margin(0.0075));
  CHECK(overlap_of("level_low", "lens_dirty") == Approx(0.76).margin(0.0075));
  CHECK(overlap_of("spindle_eccentric", "spindle_bearing") == Approx(0.67).margin(0.0075));
  CHECK(overlap_of("ground_on_reference", "wiper_open") == Approx(0.54).margin(0.0075));
  CHECK(overlap_of("healthy", "healthy") == Approx(1).margin(1e-12));
}

TEST_CASE("diagnose: without evidence the priors are believed", "[diagnosis]") {
  const auto belief = beliefs(judgement_table(), {}, {});
  CHECK(belief[cause("healthy")] == Approx(0.1987).margin(1e-4));
  CHECK(std::accumulate(belief.begin(), belief.end(), 0.0) == Approx(1).margin(1e-12));
}

TEST_CASE("diagnose: one evidence by hand", "[diagnosis]") {
  // Bayes' rule with the numbers of the table: prior times P(other | cause), over their sum for all causes.
  const std::vector<Observation> other{observe_told("disc_record", "other")};
  const auto belief = beliefs(judgement_table(), other, {});
  const double wrong = 0.0149 * 0.96;
  CHECK(belief[cause("disc_wrong_kind")] == Approx(wrong / (wrong + (1 - 0.0149) * 0.02)).margin(1e-3));
}

TEST_CASE("diagnose: at half its weight an evidence counts by the root of its likelihood", "[diagnosis]") {
  Table table = judgement_table();
  const std::size_t evidence = *find_evidence("disc_record");
  table.weight[evidence] = 0.5;
  const std::vector<Observation> other{observe_told("disc_record", "other")};
  const auto belief = beliefs(table, other, {});
  const double wrong = 0.0149 * std::sqrt(0.96);
  CHECK(belief[cause("disc_wrong_kind")] == Approx(wrong / (wrong + (1 - 0.0149) * std::sqrt(0.02))).margin(1e-3));
}

TEST_CASE("diagnose: a kind of wear that the player cannot have is not believed", "[diagnosis]") {
  const auto all = seen(dark_and_dirty);
  const auto with = beliefs(judgement_table(), all, {.has_power_loop = true});
  const auto without = beliefs(judgement_table(), all, {.has_power_loop = false});
  CHECK(with[cause("worn_laser_no_loop")] == 0);
  CHECK(with[cause("worn_laser_loop")] > 0);
  CHECK(without[cause("worn_laser_loop")] == 0);
  CHECK(without[cause("worn_laser_no_loop")] > 0);
}

TEST_CASE("diagnose: an evidence that was not looked at changes nothing", "[diagnosis]") {
  const Observation nothing{*find_evidence("jitter"), {1, 1, 1, 1}};
  const auto before = beliefs(judgement_table(), seen({}), {});
  auto all = seen({});
  for (Observation& o : all)
    if (o.evidence == nothing.evidence) o = nothing;
  auto without = seen({});
  std::erase_if(without, [&](const Observation& o) { return o.evidence == nothing.evidence; });
  const auto a = beliefs(judgement_table(), all, {}), b = beliefs(judgement_table(), without, {});
  for (std::size_t c = 0; c < a.size(); ++c) CHECK(a[c] == Approx(b[c]).margin(1e-12));
  CHECK(before[0] != b[0]);
}

TEST_CASE("diagnose: a dirty lens and a dirty mirror are named together until one was cleaned", "[diagnosis]") {
  auto all = seen(dark_and_dirty);
  const Diagnosis before = diagnose(judgement_table(), all, {.has_power_loop = true});
  CHECK(before.suspects.front().name == "lens dirty or mirror dirty");
  all.push_back(observe_told("clean_lens", "helps"));
  const Diagnosis after = diagnose(judgement_table(), all, {.has_power_loop = true});
  CHECK(after.suspects.front().name == "lens dirty");
  CHECK(after.is_known);
}

TEST_CASE("diagnose: a good unit is told to have no fault, and never together with one", "[diagnosis]") {
  const Diagnosis d = diagnose(judgement_table(), seen({}), {.has_power_loop = true});
  CHECK(d.suspects.front().name == "no fault");
  CHECK(d.is_known);
}

TEST_CASE("diagnose: where nothing is looked at, nothing is known", "[diagnosis]") {
  CHECK_FALSE(diagnose(judgement_table(), {}, {}).is_known);
}

TEST_CASE("diagnose: current and trimmer are the weightiest arguments for a worn laser with a loop", "[diagnosis]") {
  const auto all = seen({{"laser_current", "high"}, {"trimmer", "flat"}});
  const Diagnosis d = diagnose(judgement_table(), all, {.has_power_loop = true});
  REQUIRE(d.suspects.front().name == "laser worn");
  std::set<std::string_view> first;
  for (std::size_t i = 0; i < 2; ++i) {
    const Argument& argument = d.suspects.front().arguments[i];
    first.insert(evidences()[all[argument.observation].evidence].id);
    CHECK(argument.weight > std::log(10));
  }
  CHECK(first == std::set<std::string_view>{"laser_current", "trimmer"});
}

TEST_CASE("diagnose: an evidence that is told twice is refused", "[diagnosis]") {
  const std::vector<Observation> twice{observe_told("discs", "one"), observe_told("discs", "one")};
  CHECK_THROWS_WITH(diagnose(judgement_table(), twice, {}), Catch::Contains("other discs is told twice"));
}
