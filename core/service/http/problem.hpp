// SPDX-License-Identifier: Apache-2.0
// What went wrong with a request, as RFC 9457 has it: application/problem+json.
#pragma once

#include <cstdint>
#include <exception>
#include <string>

#include "core/base/error.hpp"
#include "core/service/http/message.hpp"

namespace eyelevel::service::http {

// Thrown by a route.
class Problem : public std::exception {
 public:
  Problem(int status, std::string detail, std::string advice = {})
      : status_(status), detail_(std::move(detail)), advice_(std::move(advice)) {}
  int status() const { return status_; }
  const std::string& advice() const { return advice_; }
  // Of a 429: how long to wait (RFC 9110, 10.2.3).
  Problem& after_seconds(std::int64_t seconds) {
    after_seconds_ = seconds;
    return *this;
  }
  std::int64_t after_seconds() const { return after_seconds_; }
  const char* what() const noexcept override { return detail_.c_str(); }

 private:
  int status_;
  std::string detail_;
  std::string advice_;
  std::int64_t after_seconds_ = 0;
};

Response answer_to(const Problem& problem);
// 404 for not_found, 422 for what the asker has wrong, 503 for the store, 500 for our own defect.
Response answer_to(const base::Error& error);

}  // namespace eyelevel::service::http
