// SPDX-License-Identifier: Apache-2.0
// An answer that is JSON.
#pragma once

#include <boost/json/value.hpp>

#include "core/record/journal/json_text.hpp"
#include "core/service/http/message.hpp"

namespace eyelevel::service::http {

inline Response json_answer(const boost::json::value& body, int status = 200) {
  return {status, "application/json", record::text_of(body), {}};
}

}  // namespace eyelevel::service::http
