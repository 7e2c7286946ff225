// SPDX-License-Identifier: Apache-2.0
// Reads a JSON body strictly: what is missing, of another type or unknown is http::Problem(422) that names it.
#pragma once

#include <boost/json/object.hpp>

#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

#include "core/event/event.hpp"

namespace eyelevel::service {

class Fields {
 public:
  // `body` must outlive it.
  Fields(const boost::json::object& body, std::initializer_list<std::string_view> known);

  std::string text(std::string_view name) const;
  std::string text_or(std::string_view name, std::string_view otherwise) const;
  std::vector<std::string> texts(std::string_view name) const;
  std::vector<std::string> texts_or_none(std::string_view name) const;
  std::int64_t whole(std::string_view name) const;
  std::int64_t whole_or(std::string_view name, std::int64_t otherwise) const;
  bool yes_no(std::string_view name) const;  // true or false
  double number_or(std::string_view name, double otherwise) const;
  // { "target": "1.20 V" }; absent: none.
  std::vector<event::GivenAtStart> given(std::string_view name) const;

 private:
  const boost::json::object& body_;
};

}  // namespace eyelevel::service
