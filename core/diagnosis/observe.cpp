// SPDX-License-Identifier: Apache-2.0
#include "core/diagnosis/observe.hpp"

#include <fmt/format.h>

#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <limits>

#include "core/base/error.hpp"
#include "core/diagnosis/names.hpp"

namespace eyelevel::diagnosis {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

// Classes from below, each up to its border.
struct UpTo {
  double border;
  std::string_view value;
};

struct Classes {
  std::string_view evidence;
  Against against;
  std::vector<UpTo> from_below;
};

Classes low_ok_high(std::string_view evidence, double border) {
  return {evidence, Against::ratio, {{-border, "low"}, {border, "ok"}, {infinite, "high"}}};
}

const std::vector<Classes>& all_classes() {
  static const std::vector<Classes> all{
      {"level",
       Against::ratio,
       {{1.0 / 3 - 1, "wild"}, {-0.10, "low"}, {0.10, "ok"}, {3.0 - 1, "high"}, {infinite, "wild"}}},
      low_ok_high("top", 0.10),
      low_ok_high("rise", 0.10),
      low_ok_high("rise_over_level", 0.05),
      low_ok_high("i3_over_i11", 0.05),
      {"asymmetry", Against::difference, {{-0.08, "off"}, {0.08, "ok"}, {infinite, "off"}}},
      {"jitter", Against::itself, {{28, "ok"}, {38, "raised"}, {infinite, "bad"}}},
      {"c1", Against::itself, {{50, "ok"}, {220, "raised"}, {infinite, "bad"}}},
      low_ok_high("laser_current", 0.15),
  };
  return all;
}

const Classes* find_classes(std::string_view evidence) {
  for (const Classes& one : all_classes())
    if (one.evidence == evidence) return &one;
  return nullptr;
}

[[noreturn]] void refuse(std::string message, std::string advice) {
  throw base::Error(base::ErrorCode::bad_input, std::move(message), std::move(advice));
}

std::size_t evidence_called(std::string_view id) {
  const auto found = find_evidence(id);
  if (!found) refuse(fmt::format("'{}' is no evidence", id), "name one of the table of likelihoods");
  return *found;
}

void require_usable(std::string_view evidence, const Measured& m) {
  if (!std::isfinite(m.value) || !std::isfinite(m.standard_uncertainty) || m.standard_uncertainty < 0)
    refuse(fmt::format("{} is {} with a standard uncertainty of {}", evidence, m.value, m.standard_uncertainty),
           "give finite numbers, and an uncertainty that is not negative");
}

// Probability that what was measured lies below.
double below(const Measured& m, double border) {
  if (std::isinf(border)) return 1;
  if (m.standard_uncertainty == 0) return m.value < border ? 1 : 0;
  return boost::math::cdf(boost::math::normal(m.value, m.standard_uncertainty), border);
}

// What is held against the borders; first order (GUM 5.1.2), reading and reference independent.
Measured compared(const Classes& classes, const Measured& reading, const std::optional<Measured>& reference) {
  if (classes.against == Against::itself) return reading;
  if (!reference)
    refuse(fmt::format("nothing says what {} ought to be", classes.evidence),
           "give a reference for it, or leave it out");
  require_usable(classes.evidence, *reference);
  const double u = reading.standard_uncertainty, u_reference = reference->standard_uncertainty;
  if (classes.against == Against::difference) return {reading.value - reference->value, std::hypot(u, u_reference)};
  if (!(reference->value > 0))
    refuse(fmt::format("the reference of {} is {}", classes.evidence, reference->value), "give one above zero");
  const double ratio = reading.value / reference->value;
  return {ratio - 1, std::hypot(u, ratio * u_reference) / reference->value};
}

std::string in_words(const Classes& classes, const Measured& compared) {
  switch (classes.against) {
    case Against::ratio:
      return fmt::format("{:.0f} % {} the reference", std::abs(compared.value) * 100,
                         compared.value < 0 ? "below" : "above");
    case Against::difference: return fmt::format("{:+.1f} % off the reference", compared.value * 100);
    case Against::itself: return fmt::format("{:.3g}", compared.value);
  }
  return {};
}

}  // namespace

std::optional<Against> against(std::string_view evidence) {
  const Classes* classes = find_classes(evidence);
  if (!classes) return std::nullopt;
  return classes->against;
}

Observation observe(std::string_view evidence, const Measured& reading, const std::optional<Measured>& reference) {
  const std::size_t place = evidence_called(evidence);
  const Classes* classes = find_classes(evidence);
  if (!classes) refuse(fmt::format("{} is not told by a number", evidence), "name the value that was seen");
  require_usable(evidence, reading);
  const Measured held = compared(*classes, reading, reference);
  const Evidence& named = evidences()[place];
  Observation observation{place, std::vector<double>(named.values.size()), in_words(*classes, held)};
  double so_far = 0;
  for (const UpTo& one : classes->from_below) {
    const double until = below(held, one.border);
    observation.agrees[*find_value(named, one.value)] += until - so_far;
    so_far = until;
  }
  return observation;
}

Observation observe_ripple(const Measured& once, const std::optional<Measured>& other) {
  constexpr double border = 0.03;
  require_usable("ripple", once);
  if (other) require_usable("ripple", *other);
  const std::size_t place = evidence_called("ripple");
  const Evidence& named = evidences()[place];
  Observation observation{place, std::vector<double>(named.values.size())};
  const double steady = below(once, border);
  // What nobody looked at agrees with both.
  observation.agrees[*find_value(named, "once")] = 1 - steady;
  observation.agrees[*find_value(named, "other")] = steady * (other ? 1 - below(*other, border) : 1);
  observation.agrees[*find_value(named, "ok")] = steady * (other ? below(*other, border) : 1);
  observation.found = fmt::format("{:.1f} % with the turns", once.value * 100);
  if (other) observation.found += fmt::format(", {:.1f} % beside", other->value * 100);
  return observation;
}

Observation observe_told(std::string_view evidence, std::string_view value) {
  const std::size_t place = evidence_called(evidence);
  const Evidence& named = evidences()[place];
  const auto found = find_value(named, value);
  if (!found) {
    std::string known;
    for (const Value& one : named.values) known += (known.empty() ? "" : ", ") + std::string(one.id);
    refuse(fmt::format("'{}' is no value of {}", value, evidence), "known are " + known);
  }
  Observation observation{place, std::vector<double>(named.values.size())};
  observation.agrees[*found] = 1;
  return observation;
}

}  // namespace eyelevel::diagnosis
