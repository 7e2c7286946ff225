// SPDX-License-Identifier: Apache-2.0
#include "core/program/links.hpp"

#include <fmt/format.h>

#include <map>
#include <utility>

#include "core/base/certificate.hpp"
#include "core/base/error.hpp"
#include "core/base/mapped_file.hpp"
#include "instruments/phrasebook/open.hpp"
#include "instruments/transport/hislip/tls.hpp"

namespace eyelevel::program {

std::string fingerprint_in(const std::string& certificate) {
  if (certificate.ends_with(".pem")) {
    try {
      return base::fingerprint_of(base::MappedFile(certificate).text());
    } catch (base::Error error) {
      error.within(certificate);
      throw error;
    }
  }
  auto read = transport::hislip::read_fingerprint(certificate);
  if (read.empty())
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("'{}' is neither a .pem file nor a fingerprint", base::escaped(certificate, 100)),
                      "32 bytes in hexadecimal, as 'SHA-256 fingerprint' on the instrument's display, or a .pem file");
  return read;
}

namespace {

using transport::ResourceName;
using transport::hislip::ClientOptions;
using transport::serial::Line;
using transport::usbtmc::Quirks;

transport::Transports with(std::function<Line(const ResourceName&)> line_of,
                           std::function<ClientOptions(const ResourceName&)> options_of,
                           std::function<Quirks(const ResourceName&)> quirks_of) {
  transport::Transports transports;
  transport::add_socket(transports);
  transport::add_hislip(transports, std::move(options_of));
  transport::add_vxi11(transports);
  transport::add_serial(transports, std::move(line_of));
  transport::add_usbtmc(transports, std::move(quirks_of));
  transport::add_visa(transports);
  return transports;
}

transport::hislip::Login login_in(const std::string& path) {
  if (path.empty()) return {};
  const base::MappedFile file(path);
  const auto line = file.text().substr(0, file.text().find_first_of("\r\n"));
  const auto colon = line.find(':');
  if (colon == 0 || colon == std::string_view::npos)
    throw base::Error(base::ErrorCode::bad_input, fmt::format("{}: its first line has no user and password", path),
                      "write USER:PASSWORD");
  return {std::string(line.substr(0, colon)), std::string(line.substr(colon + 1))};
}

ClientOptions options_for(const std::string& certificate, const std::string& login) {
  ClientOptions options;
  if (!certificate.empty()) options.fingerprint = fingerprint_in(certificate);
  options.login = login_in(login);
  return options;
}

// Who asks for encryption never gets a connection without it.
void require_hislip(const ResourceName& name) {
  if (name.carrier == transport::Carrier::hislip) return;
  throw base::Error(base::ErrorCode::bad_input,
                    fmt::format("{} has a certificate, and only HiSLIP is encrypted", name.canonical()),
                    "name the instrument's hislip0, or take the certificate out");
}

std::string canonical(const bench::InstrumentEntry& entry) {
  return transport::parse_resource_name(entry.resource).canonical();
}

// What is wrong is told with its place in the bench file.
void told_at(const bench::BenchFile& bench, const bench::InstrumentEntry& entry, const yaml::Mark& mark,
             const std::function<void()>& work) {
  try {
    work();
  } catch (base::Error error) {
    error.within(fmt::format("{}:{}:{}: {}", bench.file, mark.line, mark.column, entry.role));
    throw error;
  }
}

}  // namespace

void add_reached_options(CLI::App& command, Reached& reached) {
  command.add_option("--line", reached.line, "of a serial port (usual: 9600 8N1)");
  command.add_option("--certificate", reached.certificate,
                     "of a HiSLIP instrument, which is then spoken to encrypted only: its SHA-256 fingerprint, or a "
                     ".pem file");
  command.add_option("--login", reached.login, "file with USER:PASSWORD, for an instrument with a certificate");
}

void require_encryptable(const std::string& resource, const Reached& reached) {
  if (!reached.login.empty() && reached.certificate.empty())
    throw base::Error(base::ErrorCode::bad_input, "a password is said on encrypted connections only",
                      "give the instrument's certificate, too");
  if (!reached.certificate.empty()) require_hislip(transport::parse_resource_name(resource));
}

transport::Transports every_link(const Reached& reached) {
  const auto set = reached.line.empty() ? Line{} : transport::serial::parse_line(reached.line);
  const auto options = options_for(reached.certificate, reached.login);
  return with([set](const ResourceName&) { return set; }, [options](const ResourceName&) { return options; }, {});
}

transport::Transports every_link(const bench::BenchFile& bench, const phrasebook::Phrasebooks& phrasebooks) {
  std::map<std::string, Line> lines;
  std::map<std::string, ClientOptions> encrypted;
  for (const auto& entry : bench.instruments) {
    told_at(bench, entry, entry.line_mark, [&] {
      if (!entry.line.empty()) lines[canonical(entry)] = transport::serial::parse_line(entry.line);
    });
    told_at(bench, entry, entry.certificate_mark, [&] {
      if (entry.certificate.empty()) return;
      require_hislip(transport::parse_resource_name(entry.resource));
      auto options = options_for(entry.certificate, entry.login);
      options.encrypt_login_only = entry.encrypts_login_only;
      encrypted[canonical(entry)] = std::move(options);
    });
  }
  const auto line_of = [lines = std::move(lines)](const ResourceName& name) {
    const auto at = lines.find(name.canonical());
    return at == lines.end() ? Line{} : at->second;
  };
  const auto options_of = [encrypted = std::move(encrypted)](const ResourceName& name) {
    const auto at = encrypted.find(name.canonical());
    return at == encrypted.end() ? ClientOptions{} : at->second;
  };
  return with(line_of, options_of, phrasebook::quirks_of(phrasebooks, bench));
}

}  // namespace eyelevel::program
