// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/runner/step_error.hpp"

#include <fmt/format.h>
#include <boost/system/system_error.hpp>

namespace eyelevel::sequence {

using base::ErrorCode;

namespace {

base::Error error_at(const std::string& where, ErrorCode code, std::string message, std::string advice,
                     std::string cause = {}) {
  base::ErrorRecord record;
  record.code = code;
  record.where = where;
  record.message = std::move(message);
  record.advice = std::move(advice);
  record.cause = std::move(cause);
  return base::Error(record);
}

}  // namespace

std::string place_in_words(const std::string& file, const event::Place& place) {
  return fmt::format("{}:{}:{}: step \"{}\"", place.file.empty() ? file : place.file, place.line, place.column,
                     place.text);
}

base::Error translated(const std::exception_ptr& failure, const std::string& where) {
  try {
    std::rethrow_exception(failure);
  } catch (base::Error& e) {
    base::Error error = e;
    error.within(where);
    return error;
  } catch (const boost::system::system_error& e) {
    return error_at(where, ErrorCode::connection_lost, "a wait was broken off", "look at the cable and try again",
                    e.code().message());
  } catch (const std::exception& e) {
    return error_at(where, ErrorCode::defect, "the program is at fault", "please report it with this message",
                    e.what());
  }
}

base::Error stopped_at(const std::string& where) {
  return error_at(where, ErrorCode::stopped, "stopped by request; what was measured so far is not judged",
                  "start the run again when the unit is ready");
}

bool ends_the_run(const base::Error& error) {
  const ErrorCode code = error.record().code;
  return code == ErrorCode::stopped || code == ErrorCode::not_recording || code == ErrorCode::defect;
}

}  // namespace eyelevel::sequence
