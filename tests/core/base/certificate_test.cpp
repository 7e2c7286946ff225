// SPDX-License-Identifier: Apache-2.0
// What the certificates hold is read by openssl's own program (openssl-x509(1), openssl-pkey(1)).
#include "core/base/certificate.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cstdio>
#include <fstream>

#include "core/base/error.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using Catch::Matchers::Contains;

namespace {

constexpr base::UtcTime now{std::chrono::sys_days{std::chrono::year(2030) / 1 / 7}};

std::string said_by(const std::string& command) {
  std::string text;
  auto* pipe = ::popen((command + " 2>&1").c_str(), "r");
  REQUIRE(pipe != nullptr);
  std::array<char, 4096> part{};
  while (std::fgets(part.data(), part.size(), pipe) != nullptr) text += part.data();
  CAPTURE(text);
  REQUIRE(::pclose(pipe) == 0);
  return text;
}

struct Written {
  explicit Written(const base::Certificate& made) {
    std::ofstream(folder.path() / "certificate.pem") << made.certificate_pem;
    std::ofstream(folder.path() / "key.pem") << made.key_pem;
  }
  std::string file(const char* name) const { return (folder.path() / name).string(); }
  test::TemporaryFolder folder;
};

}  // namespace

TEST_CASE("certificate: another reader finds the names, the use and the time that were asked for", "[base]") {
  const Written written(base::make_certificate({"bench.lan", "192.0.2.7", "2001:db8::7"}, now, 800));
  const auto text = said_by("openssl x509 -noout -text -in " + written.file("certificate.pem"));
  CHECK_THAT(text, Contains("DNS:bench.lan, IP Address:192.0.2.7, IP Address:2001:DB8:0:0:0:0:0:7"));
  CHECK_THAT(text, Contains("CA:FALSE") && Contains("TLS Web Server Authentication") && Contains("prime256v1"));
  CHECK_THAT(text, Contains("Not Before: Jan  6 00:00:00 2030") && Contains("Not After : Mar 17 00:00:00 2032"));
  CHECK(base::end_of(base::make_certificate({"a"}, now, 800).certificate_pem) == now + std::chrono::hours(24) * 800);
}

TEST_CASE("certificate: it is signed by its own key", "[base]") {
  const Written written(base::make_certificate({"bench.lan"}, now, 800));
  said_by("openssl verify -attime 1900000000 -CAfile " + written.file("certificate.pem") + " " +
          written.file("certificate.pem"));
  CHECK(said_by("openssl pkey -pubout -in " + written.file("key.pem")) ==
        said_by("openssl x509 -noout -pubkey -in " + written.file("certificate.pem")));
}

TEST_CASE("certificate: the fingerprint is the one that another reader shows", "[base]") {
  const auto made = base::make_certificate({"bench.lan"}, now, 800);
  const Written written(made);
  CHECK_THAT(said_by("openssl x509 -noout -sha256 -fingerprint -in " + written.file("certificate.pem")),
             Contains(base::fingerprint_of(made.certificate_pem)));
}

TEST_CASE("certificate: no two have the same key or number", "[base]") {
  CHECK(base::make_certificate({"a"}, now, 1).key_pem != base::make_certificate({"a"}, now, 1).key_pem);
  CHECK(base::fingerprint_of(base::make_certificate({"a"}, now, 1).certificate_pem) !=
        base::fingerprint_of(base::make_certificate({"a"}, now, 1).certificate_pem));
}

TEST_CASE("certificate: names that are none, and texts without one, are refused", "[base]") {
  CHECK_THROWS_AS(base::make_certificate({}, now, 1), base::Error);
  CHECK_THROWS_AS(base::make_certificate({"a,DNS:b"}, now, 1), base::Error);
  CHECK_THROWS_AS(base::make_certificate({""}, now, 1), base::Error);
  CHECK_THROWS_AS(base::fingerprint_of("nothing"), base::Error);
  CHECK_THROWS_AS(base::end_of(""), base::Error);
}
