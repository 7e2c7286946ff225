// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/sasl.hpp"

#include <algorithm>

namespace eyelevel::transport::hislip {
namespace {

// As long for a wrong password as for the right one.
bool is_same(std::string_view one, std::string_view other) {
  unsigned difference = one.size() == other.size() ? 0 : 1;
  for (std::size_t i = 0; i < one.size(); ++i)
    difference |= static_cast<unsigned char>(one[i] ^ (i < other.size() ? other[i] : '\0'));
  return difference == 0;
}

}  // namespace

std::string_view mechanism_of(const Login& login) { return login.user.empty() ? "ANONYMOUS" : "PLAIN"; }

bool is_in_list(std::string_view mechanism, std::string_view list) {
  while (!list.empty()) {
    const auto word = list.substr(0, list.find_first_of(" ,"));
    if (word == mechanism) return true;
    list.remove_prefix(std::min(list.size(), word.size() + 1));
  }
  return false;
}

// RFC 4616, 2: authorisation identity (none: that of the user), NUL, user, NUL, password. RFC 4505, 2: a trace that
// may be empty.
std::string first_words(const Login& login) {
  if (login.user.empty()) return {};
  std::string words(1, '\0');
  words += login.user;
  words += '\0';
  words += login.password;
  return words;
}

bool is_login(std::string_view words, const Login& expected) {
  if (expected.user.empty()) return true;  // whatever trace it leaves
  const auto user_begins = words.find('\0');
  if (user_begins == std::string_view::npos) return false;
  const auto authorised_as = words.substr(0, user_begins);
  const bool as_itself = authorised_as.empty() || authorised_as == expected.user;
  return as_itself && is_same(words.substr(user_begins), first_words(expected));
}

}  // namespace eyelevel::transport::hislip
