// SPDX-License-Identifier: Apache-2.0
#include "core/program/links.hpp"

#include <fmt/format.h>

#include <map>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/phrasebook/open.hpp"

namespace eyelevel::program {
namespace {

using transport::ResourceName;
using transport::serial::Line;
using transport::usbtmc::Quirks;

transport::Transports with(std::function<Line(const ResourceName&)> line_of,
                           std::function<Quirks(const ResourceName&)> quirks_of) {
  transport::Transports transports;
  transport::add_socket(transports);
  transport::add_hislip(transports);
  transport::add_vxi11(transports);
  transport::add_serial(transports, std::move(line_of));
  transport::add_usbtmc(transports, std::move(quirks_of));
  transport::add_visa(transports);
  return transports;
}

}  // namespace

transport::Transports every_link(const std::string& line) {
  const auto set = line.empty() ? Line{} : transport::serial::parse_line(line);
  return with([set](const ResourceName&) { return set; }, {});
}

transport::Transports every_link(const bench::BenchFile& bench, const phrasebook::Phrasebooks& phrasebooks) {
  std::map<std::string, Line> lines;
  for (const auto& entry : bench.instruments) {
    if (entry.line.empty()) continue;
    try {
      lines[transport::parse_resource_name(entry.resource).canonical()] = transport::serial::parse_line(entry.line);
    } catch (base::Error error) {
      error.within(fmt::format("{}:{}:{}: {}", bench.file, entry.line_mark.line, entry.line_mark.column, entry.role));
      throw error;
    }
  }
  const auto line_of = [lines = std::move(lines)](const ResourceName& name) {
    const auto at = lines.find(name.canonical());
    return at == lines.end() ? Line{} : at->second;
  };
  return with(line_of, phrasebook::quirks_of(phrasebooks, bench));
}

}  // namespace eyelevel::program
