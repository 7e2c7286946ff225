// SPDX-License-Identifier: Apache-2.0
// From plain numbers to evidence. A reading is put into the classes of the table by its distribution (normal, GUM
// 4.3.4): near a border it is a bit of both and says little.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace eyelevel::diagnosis {

struct Measured {
  double value = 0;
  double standard_uncertainty = 0;
};

// How well each value of an evidence agrees with what was found, 0..1.
struct Observation {
  std::size_t evidence = 0;  // place in evidences()
  std::vector<double> agrees;
  std::string found = {};  // "1.02 V, 15 % below 1.20 V"; may be empty
};

// What a reading is held against. Borders are common practice:
// level, top and rise 10 %, `wild` by a factor of three; rise over level and I3/I11 5 %; asymmetry 0.08 from the
// reference; laser current 15 % from the label, or the model's own limit; jitter 28 and 38 ns; C1 50 and 220 words/s.
enum class Against {
  ratio,       // value over reference, less 1
  difference,  // value less reference
  itself,      // no reference is needed
};

// Empty: the evidence is no number.
std::optional<Against> against(std::string_view evidence);

// Of an evidence that is a number, in SI units but jitter, which is in ns, and C1, which is in words/s. Throws
// Error(bad_input): it is no number, a value or an uncertainty is not finite, the uncertainty is negative, a reference
// is missing, is zero or negative where it is divided by.
Observation observe(std::string_view evidence, const Measured& reading, const std::optional<Measured>& reference = {});

// The swing of the level that keeps step with the disc and what is left beside it, both peak to peak over the level.
// Above 3 % is `once`, or else `other`. Throws Error(bad_input) as above.
Observation observe_ripple(const Measured& once, const std::optional<Measured>& other = {});

// What somebody saw: one value of the evidence. Throws Error(bad_input) with the known ones.
Observation observe_told(std::string_view evidence, std::string_view value);

}  // namespace eyelevel::diagnosis
