// SPDX-License-Identifier: Apache-2.0
#include "core/program/daemon_client/place.hpp"

#include <fmt/format.h>

#include <boost/asio/ip/address.hpp>
#include <boost/url/parse.hpp>
#include <boost/url/url_view.hpp>
#include <cstdlib>

#include "core/base/error.hpp"
#include "core/program/links.hpp"

namespace eyelevel::program {
namespace {

base::Error refused(const std::string& url, const std::string& why, const std::string& advice) {
  return base::Error(base::ErrorCode::bad_input, fmt::format("--daemon {}: {}", base::escaped(url), why), advice);
}

std::string from_environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

bool is_this_machine(const std::string& host) {
  boost::system::error_code error;
  const auto address = boost::asio::ip::make_address(host, error);
  return error ? host == "localhost" : address.is_loopback();
}

}  // namespace

void add_daemon_options(CLI::App& command, DaemonOptions& options) {
  command.add_option(
      "--daemon", options.url,
      "by a running daemon, at the URL that it told when it began; who signs in there sets EYELEVEL_TOKEN, "
      "who stands at its bench EYELEVEL_SEAT");
  command
      .add_option("--certificate", options.certificate,
                  "of that daemon: the SHA-256 fingerprint that it told, or a .pem file; usual: one for which an "
                  "authority vouches that this system trusts")
      ->needs("--daemon");
}

DaemonPlace daemon_place(const DaemonOptions& options) {
  const std::string& url = options.url;
  const auto parsed = boost::urls::parse_uri(url);
  if (!parsed || (parsed->scheme() != "http" && parsed->scheme() != "https") || parsed->host().empty() ||
      parsed->encoded_path().size() > 1 || parsed->has_query() || parsed->has_userinfo())
    throw refused(url, "this is no address of a daemon", "as eyeleveld told it, such as http://127.0.0.1:8470");
  DaemonPlace place;
  place.is_secure = parsed->scheme() == "https";
  place.host = parsed->host_address();
  place.port = parsed->has_port() ? std::string(parsed->port()) : place.is_secure ? "443" : "80";
  place.authority = fmt::format(fmt::runtime(place.host.find(':') == std::string::npos ? "{}:{}" : "[{}]:{}"),
                                place.host, place.port);
  place.url = fmt::format("{}://{}", place.is_secure ? "https" : "http", place.authority);
  place.token = from_environment("EYELEVEL_TOKEN");
  place.seat = from_environment("EYELEVEL_SEAT");
  if (!options.certificate.empty()) {
    if (!place.is_secure)
      throw refused(url, "only https has a certificate", "write https://, or leave --certificate out");
    place.fingerprint = fingerprint_in(options.certificate);
  }
  const bool has_secret = !place.token.empty() || !place.seat.empty();
  if (has_secret && !place.is_secure && !is_this_machine(place.host))
    throw refused(url, "EYELEVEL_TOKEN and EYELEVEL_SEAT are not sent where everybody could read them",
                  "write https://, as the daemon serves it");
  return place;
}

}  // namespace eyelevel::program
