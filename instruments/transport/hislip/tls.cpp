// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/hislip/tls.hpp"

#include <fmt/format.h>
#include <openssl/bio.h>
#include <openssl/err.h>
#include <openssl/pem.h>
#include <openssl/ssl.h>
#include <openssl/x509.h>

#include <algorithm>
#include <array>
#include <limits>
#include <utility>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"

namespace eyelevel::transport::hislip {
namespace {

constexpr std::size_t most_to_answer = std::size_t{64} << 10U;

template <auto release>
struct Release {
  template <class T>
  void operator()(T* what) const {
    release(what);
  }
};
using Context = std::unique_ptr<SSL_CTX, Release<SSL_CTX_free>>;
using Bio = std::unique_ptr<BIO, Release<BIO_free>>;
using X509Ptr = std::unique_ptr<X509, Release<X509_free>>;
using Key = std::unique_ptr<EVP_PKEY, Release<EVP_PKEY_free>>;

std::string reason() {
  std::array<char, 256> text{};
  ERR_error_string_n(ERR_get_error(), text.data(), text.size());
  ERR_clear_error();
  return text.data();
}

void require(bool is_done, const char* what) {
  if (!is_done)
    throw base::Error(base::ErrorCode::defect, fmt::format("no encryption: {}: {}", what, reason()),
                      "please report it");
}

void require_input(bool is_right, const char* what) {
  if (!is_right)
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{}: {}", what, reason()),
                      "give a certificate and its key in PEM");
}

Context context() {
  Context made(SSL_CTX_new(TLS_method()));
  require(made && SSL_CTX_set_min_proto_version(made.get(), TLS1_2_VERSION) == 1, "a context");
  SSL_CTX_set_num_tickets(made.get(), 0);  // nobody resumes
  SSL_CTX_set_options(made.get(), SSL_OP_NO_RENEGOTIATION);
  return made;
}

Bio in_memory(const std::string& text) {
  Bio bio(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
  require(bio != nullptr, "memory");
  return bio;
}

}  // namespace

struct Tls::State {
  explicit State(Context made) : context(std::move(made)), ssl(SSL_new(context.get())) {
    in = BIO_new(BIO_s_mem());
    out = BIO_new(BIO_s_mem());
    require(ssl && in != nullptr && out != nullptr, "a connection");
    BIO_set_mem_eof_return(in, -1);  // empty is not the end
    SSL_set_bio(ssl.get(), in, out);
  }

  Context context;
  std::unique_ptr<SSL, Release<SSL_free>> ssl;
  BIO* in = nullptr;  // both are the connection's
  BIO* out = nullptr;
};

Tls::Tls(std::unique_ptr<State> state) : state_(std::move(state)) {}
Tls::~Tls() = default;

std::unique_ptr<Tls> Tls::client() {
  auto state = std::make_unique<State>(context());
  // No authority is asked: the certificate is compared after the handshake, in which its owner proved to have its key.
  SSL_set_verify(state->ssl.get(), SSL_VERIFY_NONE, nullptr);
  SSL_set_connect_state(state->ssl.get());
  return std::unique_ptr<Tls>(new Tls(std::move(state)));
}

std::unique_ptr<Tls> Tls::server(const std::string& certificate_pem, const std::string& key_pem) {
  auto made = context();
  const X509Ptr certificate(PEM_read_bio_X509(in_memory(certificate_pem).get(), nullptr, nullptr, nullptr));
  require_input(certificate && SSL_CTX_use_certificate(made.get(), certificate.get()) == 1,
                "the certificate cannot be used");
  const Key key(PEM_read_bio_PrivateKey(in_memory(key_pem).get(), nullptr, nullptr, nullptr));
  require_input(key && SSL_CTX_use_PrivateKey(made.get(), key.get()) == 1, "the certificate's key cannot be used");
  auto state = std::make_unique<State>(std::move(made));
  SSL_set_accept_state(state->ssl.get());
  return std::unique_ptr<Tls>(new Tls(std::move(state)));
}

void Tls::put(std::string_view bytes) {
  const int size = static_cast<int>(std::min<std::size_t>(bytes.size(), std::numeric_limits<int>::max()));
  require(size == 0 || BIO_write(state_->in, bytes.data(), size) == size, "memory");
}

void Tls::take_out() {
  char* bytes = nullptr;
  const auto size = BIO_get_mem_data(state_->out, &bytes);
  if (size > 0) to_send_.append(bytes, static_cast<std::size_t>(size));
  BIO_reset(state_->out);
}

// True when the call has done what it is for; what it has to say to the peer is taken out in any case.
bool Tls::note(int result) {
  const int why = result > 0 ? SSL_ERROR_NONE : SSL_get_error(state_->ssl.get(), result);
  if (why == SSL_ERROR_ZERO_RETURN) ended_ = true;
  if (why != SSL_ERROR_NONE && why != SSL_ERROR_WANT_READ && why != SSL_ERROR_ZERO_RETURN && fault_.empty())
    fault_ = "encryption failed: " + reason();
  take_out();
  return why == SSL_ERROR_NONE;
}

bool Tls::shake_hands() {
  ERR_clear_error();
  return note(SSL_do_handshake(state_->ssl.get()));
}

std::size_t Tls::read(char* into, std::size_t most) {
  if (most == 0 || ended_ || !fault_.empty()) return 0;
  ERR_clear_error();
  std::size_t count = 0;
  const bool done = note(SSL_read_ex(state_->ssl.get(), into, most, &count));
  if (to_send_.size() > most_to_answer && fault_.empty())
    fault_ = "encryption failed: the peer wants new keys without end";
  return done && fault_.empty() ? count : 0;
}

std::string Tls::behind_end() const {
  char* bytes = nullptr;
  const auto size = BIO_get_mem_data(state_->in, &bytes);
  return size > 0 ? std::string(bytes, static_cast<std::size_t>(size)) : std::string();
}

void Tls::write(std::string_view bytes) {
  if (bytes.empty() || !fault_.empty()) return;
  ERR_clear_error();
  std::size_t count = 0;  // all of them: a buffer in memory takes everything
  note(SSL_write_ex(state_->ssl.get(), bytes.data(), bytes.size(), &count));
}

void Tls::end() {
  SSL_shutdown(state_->ssl.get());  // an error: before the handshake, or after a fault, there is nothing to say
  ERR_clear_error();
  take_out();
}

std::string Tls::peer_fingerprint() const {
  const X509Ptr certificate(SSL_get1_peer_certificate(state_->ssl.get()));
  if (!certificate) return {};
  const Bio text(BIO_new(BIO_s_mem()));
  require(text && PEM_write_bio_X509(text.get(), certificate.get()) == 1, "the peer's certificate");
  char* bytes = nullptr;
  const auto size = BIO_get_mem_data(text.get(), &bytes);
  return base::fingerprint_of({bytes, static_cast<std::size_t>(size)});
}

std::string read_fingerprint(std::string_view text) {
  constexpr std::size_t digits = 64;
  std::string read;
  std::size_t count = 0;
  for (const char c : text) {
    const char upper = c >= 'a' && c <= 'f' ? static_cast<char>(c - 'a' + 'A') : c;
    if (c == ':' && count > 0 && count % 2 == 0) continue;
    if (!((upper >= '0' && upper <= '9') || (upper >= 'A' && upper <= 'F'))) return {};
    if (count > 0 && count % 2 == 0) read += ':';
    read += upper;
    ++count;
  }
  return count == digits ? read : std::string();
}

}  // namespace eyelevel::transport::hislip
