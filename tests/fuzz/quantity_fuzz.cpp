// SPDX-License-Identifier: Apache-2.0
// Any bytes as a quantity, a span, a tolerance, a count: places stay inside the text, and what was read is printed so
// that it is read again as the same to the digits printed.
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "core/quantity/text.hpp"

using namespace eyelevel;

namespace {

template <class T>
void inside(const quantity::Parsed<T>& parsed, std::size_t size) {
  if (!parsed && (parsed.error().offset > size || parsed.error().message.empty())) std::abort();
}

bool near(double a, double b) { return std::abs(a - b) <= 1e-4 * std::max(std::abs(a), std::abs(b)) + 1e-300; }

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::vector<char> exact(data, data + size);
  const std::string_view text(exact.data(), exact.size());
  const auto any = quantity::parse_quantity(text);
  inside(any, size);
  if (any) {
    const auto again = quantity::parse_quantity(quantity::print(*any, 8));
    if (!again || again->dimension != any->dimension || !near(again->si, any->si)) std::abort();
  }
  const auto span = quantity::parse_span(text);
  inside(span, size);
  if (span) {
    if (!span->low && !span->high) std::abort();
    if (span->low && span->high && !(*span->low <= *span->high)) std::abort();
    quantity::print(*span);
  }
  for (const auto dimension : {quantity::voltage, quantity::time, quantity::samples, quantity::ratio}) {
    inside(quantity::parse_quantity(text, dimension), size);
    inside(quantity::parse_span(text, dimension), size);
    inside(quantity::parse_tolerance(text, dimension), size);
  }
  inside(quantity::parse_count(text), size);
  for (const std::size_t offset : {std::size_t{0}, size / 2, size + 1}) {
    const auto scanned = quantity::scan_quantity(text, offset);
    inside(scanned, size);
    if (scanned && scanned->end > size) std::abort();
    const auto scanned_span = quantity::scan_span(text, offset);
    inside(scanned_span, size);
    if (scanned_span && scanned_span->end > size) std::abort();
    const auto tolerance = quantity::scan_tolerance(text, offset);
    inside(tolerance, size);
    if (tolerance && tolerance->end > size) std::abort();
  }
  return 0;
}
