// SPDX-License-Identifier: Apache-2.0
// Passwords and secrets of our own making (libsodium). Only what cannot be turned back is ever kept.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace eyelevel::service {

// Argon2id (RFC 9106) with a salt of its own, as one text that says its own cost: 64 MiB, two passes, about 0.1 s. More
// than the least that OWASP's Password Storage Cheat Sheet names (19 MiB, two passes; from memory).
// Throws Error(not_recording) when the memory cannot be had.
std::string hash_of_password(std::string_view password);
// Takes as long; with an empty hash too, so that nobody learns from the time whether a user exists.
bool is_password(const std::string& hash, std::string_view password);

// Why a new password is refused, with what would do; empty when it will do. NIST SP 800-63B, 5.1.1.2: length counts, no
// rules of composition; not what is known of the user.
std::optional<std::string> weakness(std::string_view password, std::string_view user);

// 256 random bits, URL-safe.
std::string new_secret();
// What is kept of such a secret (BLAKE2b, 256 bits, hexadecimal). It has entropy enough to need no slow hash.
std::string mark_of(std::string_view secret);

}  // namespace eyelevel::service
