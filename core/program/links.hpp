// SPDX-License-Identifier: Apache-2.0
// Every way of reaching a real instrument that this program has.
#pragma once

#include <CLI/CLI.hpp>
#include <string>

#include "core/bench/bench_file.hpp"
#include "instruments/phrasebook/standard.hpp"
#include "instruments/transport/transports.hpp"

namespace eyelevel::program {

// What a resource name leaves open, as the bench file has it for each instrument and the command line for one.
struct Reached {
  std::string line;         // how a serial port is set, "115200 8N1"; empty: the usual 9600 8N1
  std::string certificate;  // of HiSLIP: the fingerprint, or a .pem file; empty: not encrypted
  std::string login;        // a file with USER:PASSWORD
};

void add_reached_options(CLI::App& command, Reached& reached);

// "4F:0A:..." of a SHA-256 fingerprint however it is written, or of the certificate in a .pem file. Throws
// base::Error(bad_input) for anything else.
std::string fingerprint_in(const std::string& certificate);

// The same for every resource. Throws base::Error(bad_input).
transport::Transports every_link(const Reached& reached = {});
// Throws base::Error(bad_input) when this resource could not be reached encrypted, as `reached` wants it.
void require_encryptable(const std::string& resource, const Reached& reached);
// As the bench file says for each, USB instruments as their phrasebooks say. Throws as find_phrasebook does.
transport::Transports every_link(const bench::BenchFile& bench, const phrasebook::Phrasebooks& phrasebooks);

}  // namespace eyelevel::program
