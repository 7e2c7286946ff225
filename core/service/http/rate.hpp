// SPDX-License-Identifier: Apache-2.0
// How many requests one address may send: a burst at once, then so many a second (a token bucket). A pure value.
#pragma once

#include <cstddef>
#include <map>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"

namespace eyelevel::service::http {

class Rate {
 public:
  Rate(double burst, double each_second) : burst_(burst), each_second_(each_second) {}

  // Whether one more may be asked now; if so, it is counted.
  bool take(std::string_view who, base::Duration now);
  std::size_t known() const { return left_.size(); }

 private:
  struct Left {
    double requests = 0;
    base::Duration seen{};
  };
  double left_of(const Left& left, base::Duration now) const;

  double burst_;
  double each_second_;
  std::map<std::string, Left, std::less<>> left_;
};

}  // namespace eyelevel::service::http
