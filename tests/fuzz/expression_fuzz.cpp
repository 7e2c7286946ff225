// SPDX-License-Identifier: Apache-2.0
// Any text as an expression and as a condition: read or refused, and what is read can be worked out or says why not.
#include <cstddef>
#include <cstdint>
#include <string_view>

#include "core/base/error.hpp"
#include "core/sequence/expression/condition.hpp"

using namespace eyelevel;

namespace {

const sequence::NamedDimensions names = {{"a", quantity::voltage}, {"b", quantity::voltage}, {"t", quantity::time}};
const sequence::NamedLimits limits = {{"level", {{0.5, 2.0}, quantity::voltage}}};

sequence::Value value_of(const std::string& name) {
  sequence::Value value;
  value.reading.name = name;
  value.reading.value = name == "t" ? 0 : 1.2;
  value.reading.unit = name == "t" ? "s" : "V";
  value.reading.contributions = {{"own of " + name, 'B', metrology::Shape::rectangular, 0.01}};
  value.reading.interval = metrology::combine(value.reading.contributions);
  return value;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  try {
    if (const auto found = sequence::parse_expression(text, names)) found->value(value_of);
  } catch (const base::Error&) {  // divided by zero, no finite number
  }
  try {
    if (const auto found = sequence::parse_condition(text, names, limits)) found->holds(value_of);
  } catch (const base::Error&) {
  }
  return 0;
}
