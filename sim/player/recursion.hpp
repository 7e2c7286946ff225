// SPDX-License-Identifier: Apache-2.0
// First-order recursions over many samples, as filters have them.
#pragma once

#include <cstddef>
#include <span>

namespace eyelevel::sim {

// out[i] = keep * out[i - 1] + in(i), four at a time: the wait for the sample before is paid once for four.
template <class In>
float run_recursion(float keep, float before, std::span<float> out, In&& in) {
  const float keep2 = keep * keep, keep3 = keep2 * keep, keep4 = keep2 * keep2;
  std::size_t i = 0;
  for (; i + 4 <= out.size(); i += 4) {
    const float sum0 = in(i);
    const float sum1 = keep * sum0 + in(i + 1);
    const float sum2 = keep * sum1 + in(i + 2);
    const float sum3 = keep * sum2 + in(i + 3);
    out[i] = keep * before + sum0;
    out[i + 1] = keep2 * before + sum1;
    out[i + 2] = keep3 * before + sum2;
    out[i + 3] = before = keep4 * before + sum3;
  }
  for (; i < out.size(); ++i) out[i] = before = keep * before + in(i);
  return before;
}

}  // namespace eyelevel::sim
