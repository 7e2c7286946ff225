// SPDX-License-Identifier: Apache-2.0
#include "core/service/fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/json.hpp>

#include "core/base/error.hpp"
#include "core/service/http/problem.hpp"
#include "core/yaml/nearest.hpp"

namespace eyelevel::service {

using http::Problem;

namespace {

[[noreturn]] void wrong(std::string_view name, std::string_view what) {
  throw Problem(422, fmt::format("\"{}\" is to be {}", name, what));
}

std::string text_in(const boost::json::value& value, std::string_view name) {
  if (!value.is_string()) wrong(name, "a text");
  constexpr std::size_t longest = 4096;
  const std::string text(value.get_string());
  if (text.size() > longest) wrong(name, fmt::format("at most {} bytes long", longest));
  if (text.find('\0') != std::string::npos) wrong(name, "a text without NUL");
  return text;
}

}  // namespace

Fields::Fields(const boost::json::object& body, std::initializer_list<std::string_view> known) : body_(body) {
  const std::vector<std::string> names(known.begin(), known.end());
  for (const auto& member : body) {
    const std::string name(member.key());
    if (std::find(names.begin(), names.end(), name) == names.end())
      throw Problem(422, fmt::format("there is no \"{}\" here", base::escaped(name, 60)),
                    yaml::would_be_right(name, names, "leave it out"));
  }
}

std::string Fields::text(std::string_view name) const {
  const auto* value = body_.if_contains(name);
  if (value == nullptr) throw Problem(422, fmt::format("\"{}\" is missing", name));
  return text_in(*value, name);
}

std::string Fields::text_or(std::string_view name, std::string_view otherwise) const {
  return body_.contains(name) ? text(name) : std::string(otherwise);
}

std::vector<std::string> Fields::texts(std::string_view name) const {
  const auto* value = body_.if_contains(name);
  if (value == nullptr) throw Problem(422, fmt::format("\"{}\" is missing", name));
  if (!value->is_array()) wrong(name, "a list of texts");
  std::vector<std::string> all;
  for (const auto& one : value->get_array()) all.push_back(text_in(one, name));
  return all;
}

std::vector<std::string> Fields::texts_or_none(std::string_view name) const {
  return body_.contains(name) ? texts(name) : std::vector<std::string>();
}

std::int64_t Fields::whole(std::string_view name) const {
  const auto* value = body_.if_contains(name);
  if (value == nullptr) throw Problem(422, fmt::format("\"{}\" is missing", name));
  if (!value->is_int64()) wrong(name, "a whole number");
  return value->get_int64();
}

std::int64_t Fields::whole_or(std::string_view name, std::int64_t otherwise) const {
  return body_.contains(name) ? whole(name) : otherwise;
}

bool Fields::yes_no(std::string_view name) const {
  const auto* value = body_.if_contains(name);
  if (value == nullptr) throw Problem(422, fmt::format("\"{}\" is missing", name));
  if (!value->is_bool()) wrong(name, "true or false");
  return value->get_bool();
}

double Fields::number_or(std::string_view name, double otherwise) const {
  const auto* value = body_.if_contains(name);
  if (value == nullptr) return otherwise;
  if (!value->is_number()) wrong(name, "a number");
  return value->to_number<double>();
}

std::vector<event::GivenAtStart> Fields::given(std::string_view name) const {
  std::vector<event::GivenAtStart> all;
  const auto* value = body_.if_contains(name);
  if (value == nullptr) return all;
  if (!value->is_object()) wrong(name, "an object of texts");
  for (const auto& member : value->get_object())
    all.push_back({std::string(member.key()), text_in(member.value(), member.key())});
  return all;
}

}  // namespace eyelevel::service
