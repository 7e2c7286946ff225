// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/secret.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "core/base/error.hpp"

namespace eyelevel::service {

namespace {

void begin() {
  static const int state = sodium_init();  // safe to be called again, not by two threads at first
  if (state < 0) throw base::Error(base::ErrorCode::defect, "libsodium cannot begin", "please report it");
}

std::string small_letters(std::string_view text) {
  std::string small(text);
  std::transform(small.begin(), small.end(), small.begin(), [](unsigned char c) { return std::tolower(c); });
  return small;
}

// Of no password: what is checked when there is no such user.
const std::string& nobodys_hash() {
  static const std::string hash = hash_of_password(new_secret());
  return hash;
}

constexpr std::size_t shortest = 12;
constexpr std::size_t longest = 256;

}  // namespace

std::string hash_of_password(std::string_view password) {
  begin();
  std::array<char, crypto_pwhash_STRBYTES> hash{};
  if (crypto_pwhash_str_alg(hash.data(), password.data(), password.size(), crypto_pwhash_OPSLIMIT_INTERACTIVE,
                            crypto_pwhash_MEMLIMIT_INTERACTIVE, crypto_pwhash_ALG_ARGON2ID13) != 0)
    throw base::Error(base::ErrorCode::not_recording, "a password cannot be hashed: 64 MiB of memory are not to be had",
                      "free some memory");
  return hash.data();
}

bool is_password(const std::string& hash, std::string_view password) {
  begin();
  const std::string& against = hash.empty() ? nobodys_hash() : hash;
  const bool is_right =
      password.size() <= longest && crypto_pwhash_str_verify(against.c_str(), password.data(), password.size()) == 0;
  return is_right && !hash.empty();
}

std::optional<std::string> weakness(std::string_view password, std::string_view user) {
  if (password.size() < shortest)
    return fmt::format("the password is too short: at least {} characters, four words for example", shortest);
  if (password.size() > longest) return fmt::format("the password is too long: at most {} bytes", longest);
  std::array<bool, 256> seen{};
  for (const char c : password) seen.at(static_cast<unsigned char>(c)) = true;
  if (std::count(seen.begin(), seen.end(), true) < 5)
    return std::string("the password repeats a few characters only: use four words, for example");
  if (!user.empty() && small_letters(password).find(small_letters(user)) != std::string::npos)
    return std::string("the password holds the name of its user");
  return std::nullopt;
}

std::string new_secret() {
  begin();
  std::array<unsigned char, 32> bytes{};
  randombytes_buf(bytes.data(), bytes.size());
  std::array<char, sodium_base64_ENCODED_LEN(32, sodium_base64_VARIANT_URLSAFE_NO_PADDING)> text{};
  return sodium_bin2base64(text.data(), text.size(), bytes.data(), bytes.size(),
                           sodium_base64_VARIANT_URLSAFE_NO_PADDING);
}

std::string mark_of(std::string_view secret) {
  begin();
  std::array<unsigned char, 32> hash{};
  crypto_generichash(hash.data(), hash.size(), reinterpret_cast<const unsigned char*>(secret.data()), secret.size(),
                     nullptr, 0);
  std::string text;
  for (const auto byte : hash) text += fmt::format("{:02x}", byte);
  return text;
}

}  // namespace eyelevel::service
