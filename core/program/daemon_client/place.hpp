// SPDX-License-Identifier: Apache-2.0
// Where a running daemon is, and who speaks to it.
#pragma once

#include <CLI/CLI.hpp>
#include <string>

namespace eyelevel::program {

struct DaemonPlace {
  std::string url;          // "http://127.0.0.1:8470", as eyeleveld tells it
  std::string fingerprint;  // SHA-256 of its certificate, "4F:0A:..."; empty: the authorities that this system trusts
  bool is_secure = false;   // https
  std::string host;         // a name or an address, without brackets
  std::string port;
  std::string authority;  // host and port as the Host header has them (RFC 9110, 7.2)
  std::string token;      // empty: nobody signs in
  std::string seat;       // the secret of the screen that stands at the bench; empty: none
};

// `--daemon URL` and `--certificate`.
struct DaemonOptions {
  std::string url;
  std::string certificate;  // a fingerprint, or a .pem file
};
void add_daemon_options(CLI::App& command, DaemonOptions& options);

// Token and seat are read from EYELEVEL_TOKEN and EYELEVEL_SEAT. Throws base::Error(bad_input) when the address is
// none, and when a secret would go over the network for everybody to read.
DaemonPlace daemon_place(const DaemonOptions& options);

}  // namespace eyelevel::program
