// SPDX-License-Identifier: Apache-2.0
#include "core/service/http/target.hpp"

#include <algorithm>
#include <boost/url/encoding_opts.hpp>
#include <boost/url/parse.hpp>
#include <boost/url/url_view.hpp>

namespace eyelevel::service::http {
namespace urls = boost::urls;
namespace {

bool is_clean(std::string_view text) {
  return std::none_of(text.begin(), text.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

bool is_fine(std::string_view path) {
  if (!is_clean(path) || path.find('\\') != std::string_view::npos) return false;
  const auto parts = segments(path);
  for (std::size_t i = 0; i < parts.size(); ++i)
    if (parts[i] == ".." || parts[i] == "." || (parts[i].empty() && i + 1 < parts.size())) return false;
  return true;
}

}  // namespace

std::optional<Target> read_target(std::string_view target) {
  const auto view = urls::parse_origin_form(boost::core::string_view(target.data(), target.size()));
  if (!view) return std::nullopt;
  Target read;
  read.path = view->path();
  // An encoded slash would change what the segments are.
  const auto encoded = view->encoded_path();
  std::string small(encoded.data(), encoded.size());
  std::transform(small.begin(), small.end(), small.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  if (small.find("%2f") != std::string::npos || !is_fine(read.path)) return std::nullopt;
  urls::encoding_opts as_form;
  as_form.space_as_plus = true;
  for (const auto& one : view->encoded_params()) {
    std::string value = one.has_value ? one.value.decode(as_form) : std::string();
    if (!is_clean(value)) return std::nullopt;
    read.query.insert_or_assign(one.key.decode(as_form), std::move(value));
  }
  return read;
}

std::vector<std::string_view> segments(std::string_view path) {
  std::vector<std::string_view> parts;
  if (!path.empty()) path.remove_prefix(1);
  while (true) {
    const auto slash = path.find('/');
    parts.push_back(path.substr(0, slash));
    if (slash == std::string_view::npos) return parts;
    path.remove_prefix(slash + 1);
  }
}

}  // namespace eyelevel::service::http
