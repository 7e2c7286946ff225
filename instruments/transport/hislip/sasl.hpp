// SPDX-License-Identifier: Apache-2.0
// Who a HiSLIP client says it is, after encryption has begun (IVI-6.1 rev 2.0; RFC 4422): the mechanisms ANONYMOUS
// (RFC 4505) and PLAIN (RFC 4616), both sides, as bytes. No I/O.
#pragma once

#include <string>
#include <string_view>

namespace eyelevel::transport::hislip {

struct Login {
  std::string user;  // empty: nobody in particular
  std::string password;
};

// "PLAIN" where there is a user, else "ANONYMOUS".
std::string_view mechanism_of(const Login& login);
// Whether it is among the words of a server's list.
bool is_in_list(std::string_view mechanism, std::string_view list);
// What a client says first in that mechanism.
std::string first_words(const Login& login);
// Whether these are the words of a client that may log in as `expected`.
bool is_login(std::string_view words, const Login& expected);

}  // namespace eyelevel::transport::hislip
