// SPDX-License-Identifier: Apache-2.0
#include "core/base/certificate.hpp"

#include <fmt/format.h>
#include <openssl/asn1.h>
#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509.h>
#include <openssl/x509v3.h>

#include <array>
#include <boost/asio/ip/address.hpp>
#include <ctime>
#include <memory>

#include "core/base/error.hpp"

namespace eyelevel::base {
namespace {

template <auto release>
struct Release {
  template <class T>
  void operator()(T* what) const {
    release(what);
  }
};
using Key = std::unique_ptr<EVP_PKEY, Release<EVP_PKEY_free>>;
using X509Ptr = std::unique_ptr<X509, Release<X509_free>>;
using Bio = std::unique_ptr<BIO, Release<BIO_free>>;
using Extension = std::unique_ptr<X509_EXTENSION, Release<X509_EXTENSION_free>>;

void require(bool is_done, const char* what) {
  if (is_done) return;
  std::array<char, 256> text{};
  ERR_error_string_n(ERR_get_error(), text.data(), text.size());
  throw Error(ErrorCode::defect, fmt::format("a certificate cannot be made: {}: {}", what, text.data()),
              "please report it");
}

// "IP:192.0.2.1" or "DNS:bench.lan", as x509v3_config(5) has it. A comma would begin another name.
std::string alternative(const std::string& name) {
  if (name.empty() || name.find_first_of(",\n\r ") != std::string::npos)
    throw Error(ErrorCode::bad_input, fmt::format("\"{}\" is no name of a host", escaped(name, 80)),
                "a host name or an IP address");
  boost::system::error_code error;
  boost::asio::ip::make_address(name, error);
  return (error ? "DNS:" : "IP:") + name;
}

void extend(X509* certificate, int kind, const std::string& value) {
  X509V3_CTX context;
  X509V3_set_ctx_nodb(&context);
  X509V3_set_ctx(&context, certificate, certificate, nullptr, nullptr, 0);
  const Extension extension(X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str()));
  require(extension && X509_add_ext(certificate, extension.get(), -1) == 1, value.c_str());
}

// 64 random bits and more (CA/Browser Forum, Baseline Requirements 7.1), positive.
void number(X509* certificate) {
  std::array<unsigned char, 16> bytes{};
  require(RAND_bytes(bytes.data(), static_cast<int>(bytes.size())) == 1, "random bytes");
  bytes[0] = static_cast<unsigned char>((bytes[0] & 0x7FU) | 0x40U);
  const std::unique_ptr<BIGNUM, Release<BN_free>> big(BN_bin2bn(bytes.data(), static_cast<int>(bytes.size()), nullptr));
  require(big && BN_to_ASN1_INTEGER(big.get(), X509_get_serialNumber(certificate)) != nullptr, "serial number");
}

void set_time(ASN1_TIME* place, UtcTime when) {
  require(ASN1_TIME_set(place, std::chrono::system_clock::to_time_t(
                                   std::chrono::time_point_cast<std::chrono::system_clock::duration>(when))) != nullptr,
          "its time");
}

std::string text_of(BIO* bio) {
  char* bytes = nullptr;
  const auto size = BIO_get_mem_data(bio, &bytes);
  return {bytes, static_cast<std::size_t>(size)};
}

X509Ptr read(std::string_view pem) {
  const Bio bio(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())));
  X509Ptr certificate(PEM_read_bio_X509(bio.get(), nullptr, nullptr, nullptr));
  if (!certificate) {
    ERR_clear_error();
    throw Error(ErrorCode::bad_input, "there is no certificate in it",
                "a file that begins with -----BEGIN CERTIFICATE");
  }
  return certificate;
}

}  // namespace

Certificate make_certificate(const std::vector<std::string>& names, UtcTime now, int days) {
  if (names.empty()) throw Error(ErrorCode::bad_input, "a certificate is for at least one name", "name the host");
  std::string alternatives;
  for (const auto& name : names) alternatives += (alternatives.empty() ? "" : ",") + alternative(name);

  const Key key(EVP_EC_gen("P-256"));
  require(key != nullptr, "its key");
  const X509Ptr certificate(X509_new());
  require(certificate && X509_set_version(certificate.get(), X509_VERSION_3) == 1, "version 3");
  number(certificate.get());
  set_time(X509_getm_notBefore(certificate.get()), now - std::chrono::hours(24));
  set_time(X509_getm_notAfter(certificate.get()), now + std::chrono::hours(24) * days);
  require(X509_set_pubkey(certificate.get(), key.get()) == 1, "its key");
  X509_NAME* subject = X509_get_subject_name(certificate.get());
  // RFC 5280, A.1: a common name has at most 64 characters; who reads certificates goes by the alternative names.
  const std::string common = names.front().substr(0, 64);
  require(X509_NAME_add_entry_by_txt(subject, "CN", MBSTRING_UTF8,
                                     reinterpret_cast<const unsigned char*>(common.c_str()), -1, -1, 0) == 1 &&
              X509_set_issuer_name(certificate.get(), subject) == 1,
          "its subject");
  extend(certificate.get(), NID_subject_alt_name, alternatives);
  extend(certificate.get(), NID_basic_constraints, "critical,CA:FALSE");
  extend(certificate.get(), NID_key_usage, "critical,digitalSignature");
  extend(certificate.get(), NID_ext_key_usage, "serverAuth");
  require(X509_sign(certificate.get(), key.get(), EVP_sha256()) > 0, "its signature");

  const Bio certificate_text(BIO_new(BIO_s_mem()));
  const Bio key_text(BIO_new(BIO_s_mem()));
  require(PEM_write_bio_X509(certificate_text.get(), certificate.get()) == 1, "its text");
  require(PEM_write_bio_PKCS8PrivateKey(key_text.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) == 1,
          "the text of its key");
  return {text_of(certificate_text.get()), text_of(key_text.get())};
}

std::string fingerprint_of(std::string_view certificate_pem) {
  const auto certificate = read(certificate_pem);
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int size = 0;
  require(X509_digest(certificate.get(), EVP_sha256(), digest.data(), &size) == 1, "its fingerprint");
  std::string text;
  for (unsigned int i = 0; i < size; ++i) text += fmt::format("{}{:02X}", i == 0 ? "" : ":", digest[i]);
  return text;
}

UtcTime end_of(std::string_view certificate_pem) {
  const auto certificate = read(certificate_pem);
  std::tm parts{};
  require(ASN1_TIME_to_tm(X509_get0_notAfter(certificate.get()), &parts) == 1, "its end");
  return std::chrono::time_point_cast<UtcTime::duration>(std::chrono::system_clock::from_time_t(timegm(&parts)));
}

}  // namespace eyelevel::base
