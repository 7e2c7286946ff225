// SPDX-License-Identifier: Apache-2.0
// What counts as the end by cancellation, which is no error of whoever was cancelled.
#pragma once

#include <boost/asio/error.hpp>
#include <boost/system/system_error.hpp>

#include <exception>

namespace eyelevel::transport::detail {

inline bool is_cancellation(const std::exception_ptr& error) {
  try {
    std::rethrow_exception(error);
  } catch (const boost::system::system_error& e) {
    return e.code() == boost::asio::error::operation_aborted;
  } catch (...) {
    return false;
  }
}

}  // namespace eyelevel::transport::detail
