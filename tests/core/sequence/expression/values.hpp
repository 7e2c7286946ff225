// SPDX-License-Identifier: Apache-2.0
// Readings for tests of expressions and conditions: `a` 1.2 V and `b` 0.8 V that share a gain of 2 % and have 10 mV of
// their own, `t` 2 s, `spoilt` 1 V that cannot pass.
#pragma once

#include "core/metrology/combine.hpp"
#include "core/sequence/expression/expression.hpp"

namespace eyelevel::test {

inline const sequence::NamedDimensions named = {{"a", quantity::voltage},
                                                {"b", quantity::voltage},
                                                {"spoilt", quantity::voltage},
                                                {"t", quantity::time},
                                                {"level-of-disc", quantity::voltage}};

inline sequence::Value value_of(const std::string& name) {
  sequence::Value value;
  metrology::Reading& reading = value.reading;
  reading.name = name;
  reading.value = name == "a" ? 1.2 : name == "b" ? 0.8 : name == "t" ? 2 : 1;
  reading.unit = name == "t" ? "s" : "V";
  reading.count = 4;
  if (name == "a" || name == "b")
    reading.contributions = {{"gain of scope", 'B', metrology::Shape::normal, 0.02 * reading.value},
                             {"captures of " + name, 'A', metrology::Shape::normal, 0.01}};
  reading.interval = metrology::combine(reading.contributions);
  value.can_pass = name != "spoilt";
  return value;
}

}  // namespace eyelevel::test
