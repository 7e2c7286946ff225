// SPDX-License-Identifier: Apache-2.0
#include "core/program/eyeleveld/tls_files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <ifaddrs.h>
#include <netdb.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <memory>
#include <system_error>
#include <vector>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"
#include "core/base/mapped_file.hpp"

namespace eyelevel::program {
namespace {

// Common practice: browsers refuse public certificates of more than 398 days; this one is of nobody's authority, and
// whoever compared its fingerprint shall not have to do so every year.
constexpr int days = 800;
constexpr auto made_anew_before_end = std::chrono::hours(24 * 30);

// The addresses of every interface that is up, and the name of the machine.
std::vector<std::string> names_of_this_machine() {
  std::vector<std::string> names;
  std::array<char, 256> host{};
  if (::gethostname(host.data(), host.size() - 1) == 0 && host[0] != '\0') names.emplace_back(host.data());
  names.emplace_back("localhost");
  ifaddrs* all = nullptr;
  if (::getifaddrs(&all) != 0) return names;
  const std::unique_ptr<ifaddrs, decltype(&::freeifaddrs)> owned(all, &::freeifaddrs);
  for (const auto* one = all; one != nullptr; one = one->ifa_next) {
    if (one->ifa_addr == nullptr) continue;
    const int family = one->ifa_addr->sa_family;
    if (family != AF_INET && family != AF_INET6) continue;
    const auto size = family == AF_INET ? sizeof(sockaddr_in) : sizeof(sockaddr_in6);
    std::array<char, NI_MAXHOST> text{};
    if (::getnameinfo(one->ifa_addr, static_cast<socklen_t>(size), text.data(), text.size(), nullptr, 0,
                      NI_NUMERICHOST) != 0)
      continue;
    std::string address(text.data());
    address = address.substr(0, address.find('%'));  // without the interface of a link-local one
    if (std::find(names.begin(), names.end(), address) == names.end()) names.push_back(std::move(address));
  }
  return names;
}

void write_for_owner_only(const std::filesystem::path& path, const std::string& text) {
  const auto beside = path.string() + ".new";
  const int file = ::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, S_IRUSR | S_IWUSR);
  bool is_written = file >= 0 && ::fchmod(file, S_IRUSR | S_IWUSR) == 0 &&
                    ::write(file, text.data(), text.size()) == static_cast<ssize_t>(text.size()) && ::fsync(file) == 0;
  int error = errno;
  if (file >= 0) ::close(file);
  if (is_written && ::rename(beside.c_str(), path.c_str()) != 0) {
    is_written = false;
    error = errno;
  }
  if (!is_written)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("{}: {}", path.string(), std::generic_category().message(error)),
                      "make the state folder writable, or name a certificate with --tls-certificate and --tls-key");
}

std::string text_of(const std::filesystem::path& path) { return std::string(base::MappedFile(path).text()); }

bool is_good_for_long(const std::string& certificate, base::UtcTime now) {
  return base::end_of(certificate) > now + made_anew_before_end;
}

}  // namespace

service::http::Tls given_tls(const std::string& certificate, const std::string& key) {
  return {.certificate_pem = text_of(certificate), .key_pem = text_of(key)};
}

service::http::Tls own_tls(const std::filesystem::path& state, const std::string& listen, base::UtcTime now) {
  // Both in one file, so that they are never of two makings.
  const auto path = state / "tls.pem";
  if (std::filesystem::exists(path)) {
    const auto text = text_of(path);
    if (is_good_for_long(text, now)) return {.certificate_pem = text, .key_pem = text};
  }
  auto names = names_of_this_machine();
  const auto host = listen.substr(0, listen.rfind(':'));
  const bool is_any = host == "0.0.0.0" || host == "[::]";
  if (!is_any && host.find('[') == std::string::npos && std::find(names.begin(), names.end(), host) == names.end())
    names.push_back(host);
  const auto made = base::make_certificate(names, now, days);
  const auto text = made.certificate_pem + made.key_pem;
  write_for_owner_only(path, text);
  return {.certificate_pem = text, .key_pem = text};
}

}  // namespace eyelevel::program
