// SPDX-License-Identifier: Apache-2.0
// `eyelevel find`: the instruments on LAN, USB and (asked on request only) serial ports, as a table or as JSON, and
// what was seen but cannot be used, with the reason. Everything that an instrument said is escaped before it is shown.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <boost/asio/io_context.hpp>
#include <boost/json.hpp>
#include <memory>
#include <string>
#include <vector>

#include "core/base/error.hpp"
#include "core/base/timeline.hpp"
#include "core/program/eyelevel/command.hpp"
#include "core/program/links.hpp"
#include "core/program/output.hpp"
#include "core/quantity/text.hpp"
#include "instruments/find/find.hpp"
#include "instruments/find/serial_ports.hpp"
#include "instruments/find/usb.hpp"

namespace eyelevel::program {
namespace {

namespace json = boost::json;

struct Options {
  std::string within = "2 s";
  bool ask_serial = false;
  bool as_json = false;
};

// "2 s", "500 ms", or seconds.
base::Duration time_of(const std::string& text) {
  constexpr double most_s = 600;
  const bool bare = !text.empty() && text.find_first_not_of("0123456789.") == std::string::npos;
  const auto seconds = quantity::parse_quantity(bare ? text + " s" : text, quantity::time);
  if (!seconds)
    throw base::Error(base::ErrorCode::bad_input, "--within " + text + ": " + seconds.error().message,
                      "--within '2 s'");
  if (!(*seconds > 0) || *seconds > most_s)
    throw base::Error(base::ErrorCode::bad_input,
                      fmt::format("--within {}: a time above 0 and up to {:.0f} s is expected", text, most_s),
                      "--within '2 s'");
  return base::from_seconds(*seconds);
}

json::value text_or_null(const std::string& text) {
  return text.empty() ? json::value(nullptr) : json::value(find::printable(text));
}

json::array list_of(const std::vector<std::string>& texts) {
  json::array list;
  for (const auto& text : texts) list.emplace_back(find::printable(text));
  return list;
}

json::object to_json(const find::Findings& found) {
  json::array instruments, unusable;
  for (const auto& one : found.instruments) {
    // The kind is not known from an identity alone; `eyelevel interview` learns it.
    instruments.push_back(json::object{{"name", find::printable(one.name)},
                                       {"kind", nullptr},
                                       {"resources", list_of(one.resources)},
                                       {"identity", text_or_null(find::text_of(one.identity))},
                                       {"maker", text_or_null(one.identity.maker)},
                                       {"model", text_or_null(one.identity.model)},
                                       {"serial_number", text_or_null(one.identity.serial)},
                                       {"firmware", text_or_null(one.identity.firmware)},
                                       {"seen_by", list_of(one.seen_by)}});
  }
  for (const auto& one : found.unusable)
    unusable.push_back(json::object{{"what", find::printable(one.what, 400)},
                                    {"why", find::printable(one.why, 400)},
                                    {"try", find::printable(one.attempt, 400)}});
  return {{"instruments", std::move(instruments)},
          {"unusable", std::move(unusable)},
          {"searched", list_of(found.searched)}};
}

// As wide as it is shown, as far as one character is one column.
std::size_t width_of(const std::string& text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

using Row = std::vector<std::string>;

std::string table_of(const std::vector<Row>& rows) {
  std::vector<std::size_t> widths(rows.front().size(), 0);
  for (const auto& row : rows)
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], width_of(row[i]));
  std::string text;
  for (const auto& row : rows) {
    std::string line;
    for (std::size_t i = 0; i < row.size(); ++i) {
      line += row[i];
      if (i + 1 < row.size()) line.append(widths[i] - width_of(row[i]) + 2, ' ');
    }
    line.erase(line.find_last_not_of(' ') + 1);
    text += line + "\n";
  }
  return text;
}

std::string maker_and_model(const find::Identity& identity) {
  const auto both = identity.maker + (identity.maker.empty() || identity.model.empty() ? "" : " ") + identity.model;
  return both.empty() ? "not known" : find::printable(both, 60);
}

std::string places(const find::Findings& found) {
  if (found.searched.empty()) return "no network interface";
  return fmt::format("{}", fmt::join(found.searched, ", "));
}

std::string for_people(const find::Findings& found, const std::string& within) {
  std::string text;
  if (found.instruments.empty()) {
    text += fmt::format("No instrument found: nothing usable answered within {} on {}.\n", within, places(found));
  } else {
    std::vector<Row> rows{{"Instrument", "Maker and model", "Serial number", "Resource, best first"}};
    for (const auto& one : found.instruments) {
      Row row{find::printable(one.name, 40),
              maker_and_model(one.identity),
              one.identity.serial.empty() ? "not known" : find::printable(one.identity.serial, 40),
              {}};
      for (const auto& resource : one.resources) {
        row[3] = find::printable(resource);
        rows.push_back(row);
        row = {"", "", "", ""};
      }
    }
    text += table_of(rows);
  }
  if (!found.unusable.empty()) text += "\nSeen, but cannot be used:\n";
  for (const auto& one : found.unusable)
    text += fmt::format("- {}: {}\n  try: {}\n", find::printable(one.what, 400), find::printable(one.why, 400),
                        find::printable(one.attempt, 400));
  if (found.instruments.empty())
    text +=
        "\nAn instrument that does not announce itself is reached by its address, from its network menu:\n"
        "  eyelevel ask TCPIP::ADDRESS::INSTR '*IDN?'   or   eyelevel ask TCPIP::ADDRESS::5025::SOCKET '*IDN?'\n";
  return text;
}

int look(const Options& options) {
  find::Options search;
  search.listen = time_of(options.within);
  search.ask = search.listen;
  search.interfaces = find::interfaces();
  search.others.push_back({"USB", find::usb_instruments});
  const bool ask_serial = options.ask_serial;
  search.others.push_back(
      {"serial ports", [ask_serial]() -> task<find::Seen> { co_return find::serial_ports("/dev", ask_serial); }});
  boost::asio::io_context loop(1);
  const auto timeline = base::wall_timeline(loop);
  const auto transports = every_link();
  find::Findings found;
  auto main = [&]() -> task<> { found = co_await find::find(*timeline, transports, search); };
  timeline->run(main());
  put(stdout, options.as_json ? json::serialize(to_json(found)) + "\n" : for_people(found, options.within));
  return all_met;
}

}  // namespace

void add_find(CLI::App& app, Chosen& chosen) {
  auto options = std::make_shared<Options>();
  auto* command =
      subcommand(app, "find", "Instruments on LAN, USB and serial ports, and what keeps others from being used",
                 "eyelevel find --within '5 s'");
  command->add_option("--within", options->within,
                      "how long to listen (usual: 2 s); asking what answered takes at most as long again");
  command->add_flag("--ask-serial", options->ask_serial, "send *IDN? to every serial port, too (9600 baud)");
  command->add_flag("--json", options->as_json, "print one line of JSON");
  command->callback([options, &chosen] { chosen = [options] { return look(*options); }; });
}

}  // namespace eyelevel::program
