// SPDX-License-Identifier: Apache-2.0
#include "core/program/links.hpp"

#include <fmt/format.h>

#include <map>
#include <utility>

#include "core/base/error.hpp"

namespace eyelevel::program {
namespace {

transport::Transports with_lines(std::function<transport::serial::Line(const transport::ResourceName&)> line_of) {
  transport::Transports transports;
  transport::add_socket(transports);
  transport::add_hislip(transports);
  transport::add_vxi11(transports);
  transport::add_serial(transports, std::move(line_of));
  transport::add_usbtmc(transports);
  return transports;
}

}  // namespace

transport::Transports every_link(const std::string& line) {
  const auto set = line.empty() ? transport::serial::Line{} : transport::serial::parse_line(line);
  return with_lines([set](const transport::ResourceName&) { return set; });
}

transport::Transports every_link(const bench::BenchFile& bench) {
  std::map<std::string, transport::serial::Line> lines;
  for (const auto& entry : bench.instruments) {
    if (entry.line.empty()) continue;
    try {
      lines[transport::parse_resource_name(entry.resource).canonical()] = transport::serial::parse_line(entry.line);
    } catch (base::Error error) {
      error.within(fmt::format("{}:{}:{}: {}", bench.file, entry.line_mark.line, entry.line_mark.column, entry.role));
      throw error;
    }
  }
  return with_lines([lines = std::move(lines)](const transport::ResourceName& name) {
    const auto at = lines.find(name.canonical());
    return at == lines.end() ? transport::serial::Line{} : at->second;
  });
}

}  // namespace eyelevel::program
