// SPDX-License-Identifier: Apache-2.0
// Encryption of one connection (TLS 1.2 or later, RFC 5246 and RFC 8446) as a codec: bytes from and to the network on
// one side, bytes of messages on the other. No I/O here; what is read or written when is channel.hpp's. A client takes
// one certificate only, known by its fingerprint, and no authority's word for any other. A peer that wants new keys
// again and again is a fault once the answers to it come to 64 KiB before anything else is sent; a second handshake on
// one connection (TLS 1.2) is refused.
#pragma once

#include <cstddef>
#include <memory>
#include <string>
#include <string_view>

namespace eyelevel::transport::hislip {

class Tls {
 public:
  static std::unique_ptr<Tls> client();
  // PEM both. Throws Error(bad_input) when they are none, or do not belong together.
  static std::unique_ptr<Tls> server(const std::string& certificate_pem, const std::string& key_pem);
  Tls(const Tls&) = delete;
  Tls& operator=(const Tls&) = delete;
  ~Tls();

  // What the network has brought.
  void put(std::string_view bytes);
  // Goes on as far as it can. True: the handshake has ended. False: send to_send(), bring more bytes, call again; or
  // fault() says why it never will end.
  bool shake_hands();
  // Bytes of messages that are here, at most `most`; 0: more must come from the network, or has_ended(), or fault().
  std::size_t read(char* into, std::size_t most);
  // Bytes of messages to to_send().
  void write(std::string_view bytes);

  // Says to the peer that no more comes (RFC 8446, 6.1).
  void end();

  // For the network; whoever has sent a part takes it out.
  std::string& to_send() { return to_send_; }
  bool has_ended() const { return ended_; }  // the peer said so; else an end of the stream cuts something off
  // What the network brought behind the end: no TLS any more.
  std::string behind_end() const;
  const std::string& fault() const { return fault_; }
  // Of the peer's certificate, SHA-256, "4F:0A:..."; after the handshake.
  std::string peer_fingerprint() const;

 private:
  struct State;
  explicit Tls(std::unique_ptr<State> state);
  bool note(int result);
  void take_out();

  std::unique_ptr<State> state_;
  std::string to_send_;
  std::string fault_;
  bool ended_ = false;
};

// "4f0a..." or "4F:0A:..." as fingerprint_of() writes it; empty: it is no SHA-256.
std::string read_fingerprint(std::string_view text);

}  // namespace eyelevel::transport::hislip
