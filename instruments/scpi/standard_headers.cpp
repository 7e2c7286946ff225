// SPDX-License-Identifier: Apache-2.0
#include "instruments/scpi/standard_headers.hpp"

#include <algorithm>
#include <array>
#include <set>

namespace eyelevel::scpi {
namespace {

// Nodes in brackets may be left out; '?' alone: only a query; '!' at the end: no query.
constexpr std::array patterns = {"*CLS!",
                                 "*ESE",
                                 "*ESR?",
                                 "*IDN?",
                                 "*OPC",
                                 "*OPT?",
                                 "*RST!",
                                 "*SRE",
                                 "*STB?",
                                 "*TRG!",
                                 "*TST?",
                                 "*WAI!",
                                 "ABORt!",
                                 "CALCulate:AVERage[:STATe]",
                                 "CALCulate:AVERage:COUNt",
                                 "CALCulate:DATA?",
                                 "CALCulate:FEED",
                                 "CALCulate:IMMediate!",
                                 "CALCulate:LIMit:FAIL?",
                                 "CALCulate:LIMit:LOWer[:DATA]",
                                 "CALCulate:LIMit:STATe",
                                 "CALCulate:LIMit:UPPer[:DATA]",
                                 "CALCulate:MATH[:EXPRession]",
                                 "CALCulate:STATe",
                                 "CONFigure[:SCALar]:VOLTage[:DC]!",
                                 "CONFigure[:SCALar]:VOLTage:AC!",
                                 "CONFigure[:SCALar]:CURRent[:DC]!",
                                 "CONFigure[:SCALar]:RESistance!",
                                 "CONFigure:ARRay:VOLTage[:DC]!",
                                 "CONFigure?",
                                 "FETCh[:SCALar][:VOLTage][:DC]?",
                                 "FETCh:ARRay:VOLTage[:DC]?",
                                 "FORMat[:DATA]",
                                 "FORMat:BORDer",
                                 "FORMat:DINTerchange",
                                 "FORMat:SREGister",
                                 "INITiate[:IMMediate][:ALL]!",
                                 "INITiate:CONTinuous",
                                 "INPut[:STATe]",
                                 "INPut:ATTenuation",
                                 "INPut:ATTenuation:AUTO",
                                 "INPut:COUPling",
                                 "INPut:FILTer[:LPASs][:STATe]",
                                 "INPut:FILTer[:LPASs]:FREQuency",
                                 "INPut:IMPedance",
                                 "INPut:OFFSet",
                                 "INPut:POLarity",
                                 "MEASure[:SCALar]:VOLTage[:DC]?",
                                 "MEASure[:SCALar]:VOLTage:AC?",
                                 "MEASure[:SCALar]:CURRent[:DC]?",
                                 "MEASure[:SCALar]:RESistance?",
                                 "MEASure[:SCALar]:FRESistance?",
                                 "MEASure:ARRay:VOLTage[:DC]?",
                                 "OUTPut[:STATe]",
                                 "READ[:SCALar][:VOLTage][:DC]?",
                                 "READ:ARRay:VOLTage[:DC]?",
                                 "ROUTe:CLOSe",
                                 "ROUTe:OPEN",
                                 "ROUTe:OPEN:ALL!",
                                 "ROUTe:SCAN",
                                 "[SENSe]:AVERage[:STATe]",
                                 "[SENSe]:AVERage:COUNt",
                                 "[SENSe]:AVERage:TCONtrol",
                                 "[SENSe]:AVERage:TYPE",
                                 "[SENSe]:CURRent[:DC]:RANGe[:UPPer]",
                                 "[SENSe]:CURRent[:DC]:RANGe:AUTO",
                                 "[SENSe]:DATA?",
                                 "[SENSe]:FUNCtion[:ON]",
                                 "[SENSe]:FUNCtion:OFF",
                                 "[SENSe]:FUNCtion:CONCurrent",
                                 "[SENSe]:RESistance:RANGe[:UPPer]",
                                 "[SENSe]:RESistance:RANGe:AUTO",
                                 "[SENSe]:SWEep:COUNt",
                                 "[SENSe]:SWEep:OFFSet:POINts",
                                 "[SENSe]:SWEep:OFFSet:TIME",
                                 "[SENSe]:SWEep:OREFerence:LOCation",
                                 "[SENSe]:SWEep:OREFerence:POINts",
                                 "[SENSe]:SWEep:POINts",
                                 "[SENSe]:SWEep:REALtime[:STATe]",
                                 "[SENSe]:SWEep:TIME",
                                 "[SENSe]:SWEep:TINTerval",
                                 "[SENSe]:VOLTage[:DC]:APERture",
                                 "[SENSe]:VOLTage[:DC]:NPLCycles",
                                 "[SENSe]:VOLTage[:DC]:RANGe[:UPPer]",
                                 "[SENSe]:VOLTage[:DC]:RANGe:AUTO",
                                 "[SENSe]:VOLTage[:DC]:RANGe:LOWer",
                                 "[SENSe]:VOLTage[:DC]:RANGe:OFFSet",
                                 "[SENSe]:VOLTage[:DC]:RANGe:PTPeak",
                                 "[SENSe]:VOLTage[:DC]:RESolution",
                                 "[SENSe]:VOLTage:AC:RANGe[:UPPer]",
                                 "[SOURce]:CURRent[:LEVel][:IMMediate][:AMPLitude]",
                                 "[SOURce]:FREQuency[:CW]",
                                 "[SOURce]:FUNCtion[:SHAPe]",
                                 "[SOURce]:VOLTage[:LEVel][:IMMediate][:AMPLitude]",
                                 "[SOURce]:VOLTage[:LEVel][:IMMediate]:OFFSet",
                                 "[SOURce]:VOLTage:PROTection[:LEVel]",
                                 "STATus:OPERation[:EVENt]?",
                                 "STATus:OPERation:CONDition?",
                                 "STATus:OPERation:ENABle",
                                 "STATus:OPERation:NTRansition",
                                 "STATus:OPERation:PTRansition",
                                 "STATus:PRESet!",
                                 "STATus:QUEStionable[:EVENt]?",
                                 "STATus:QUEStionable:CONDition?",
                                 "STATus:QUEStionable:ENABle",
                                 "STATus:QUEStionable:NTRansition",
                                 "STATus:QUEStionable:PTRansition",
                                 "SYSTem:CAPability?",
                                 "SYSTem:COMMunicate:TCPip:CONTrol?",
                                 "SYSTem:ERRor[:NEXT]?",
                                 "SYSTem:ERRor:ALL?",
                                 "SYSTem:ERRor:CODE[:NEXT]?",
                                 "SYSTem:ERRor:CODE:ALL?",
                                 "SYSTem:ERRor:COUNt?",
                                 "SYSTem:LFRequency",
                                 "SYSTem:VERSion?",
                                 "TRACe:CATalog?",
                                 "TRACe:COPY!",
                                 "TRACe[:DATA]",
                                 "TRACe[:DATA]:PREamble?",
                                 "TRACe:DELete[:NAME]!",
                                 "TRACe:DELete:ALL!",
                                 "TRACe:FREE?",
                                 "TRACe:POINts",
                                 "TRIGger[:SEQuence][:IMMediate]!",
                                 "TRIGger[:SEQuence]:COUNt",
                                 "TRIGger[:SEQuence]:COUPling",
                                 "TRIGger[:SEQuence]:DELay",
                                 "TRIGger[:SEQuence]:HOLDoff",
                                 "TRIGger[:SEQuence]:HYSTeresis",
                                 "TRIGger[:SEQuence]:LEVel",
                                 "TRIGger[:SEQuence]:LEVel:AUTO",
                                 "TRIGger[:SEQuence]:SLOPe",
                                 "TRIGger[:SEQuence]:SOURce"};

struct Node {
  std::string_view name;  // "VOLTage"
  bool optional = false;
};

struct Pattern {
  std::vector<Node> nodes;
  bool command = true, query = true;
};

Pattern taken_apart(std::string_view text) {
  Pattern pattern;
  if (text.ends_with('?')) pattern.command = false;
  if (text.ends_with('!')) pattern.query = false;
  if (!pattern.command || !pattern.query) text.remove_suffix(1);
  while (!text.empty()) {
    const bool optional = text.front() == '[';
    if (optional) text.remove_prefix(1);
    if (text.front() == ':') text.remove_prefix(1);
    const std::size_t end = std::min(text.find_first_of(optional ? "]" : ":["), text.size());
    pattern.nodes.push_back({text.substr(0, end), optional});
    text.remove_prefix(end);
    if (optional) text.remove_prefix(1);
  }
  return pattern;
}

char upper(char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; }

bool begins(std::string_view name, std::string_view typed) {
  return typed.size() <= name.size() &&
         std::equal(typed.begin(), typed.end(), name.begin(), [](char a, char b) { return upper(a) == upper(b); });
}

// As short or as long form (SCPI-99 Vol. 1, 6.2.1); a number behind it does not matter.
bool is_form(std::string_view name, std::string_view typed) {
  while (!typed.empty() && typed.back() >= '0' && typed.back() <= '9') typed.remove_suffix(1);
  const auto lower = std::find_if(name.begin(), name.end(), [](char c) { return c >= 'a' && c <= 'z'; });
  const auto short_size = static_cast<std::size_t>(lower - name.begin());
  return begins(name, typed) && (typed.size() == name.size() || typed.size() == short_size);
}

// What can follow `typed`, its last mnemonic unfinished.
void collect(const Pattern& pattern, std::size_t node, const std::vector<std::string_view>& typed, std::size_t at,
             std::set<std::string>& into) {
  if (node == pattern.nodes.size()) return;
  const Node& here = pattern.nodes[node];
  if (here.optional) collect(pattern, node + 1, typed, at, into);
  if (at + 1 < typed.size()) {
    if (is_form(here.name, typed[at])) collect(pattern, node + 1, typed, at + 1, into);
    return;
  }
  if (!begins(here.name, typed[at])) return;
  const bool may_end = std::all_of(pattern.nodes.begin() + static_cast<std::ptrdiff_t>(node) + 1, pattern.nodes.end(),
                                   [](const Node& n) { return n.optional; });
  if (!may_end || pattern.command) into.emplace(here.name);
  if (may_end && pattern.query) into.insert(std::string(here.name) + "?");
}

}  // namespace

std::vector<std::string> header_completions(std::string_view typed) {
  const std::size_t semicolon = typed.rfind(';');
  std::size_t begin = semicolon == std::string_view::npos ? 0 : semicolon + 1;
  while (begin < typed.size() && (typed[begin] == ' ' || typed[begin] == ':')) ++begin;
  const auto header = typed.substr(begin);
  if (header.find_first_of(" ?\"'#") != std::string_view::npos) return {};  // a header is complete
  std::vector<std::string_view> mnemonics;
  for (std::size_t at = 0;;) {
    const std::size_t colon = header.find(':', at);
    mnemonics.push_back(header.substr(at, colon == std::string_view::npos ? colon : colon - at));
    if (colon == std::string_view::npos) break;
    at = colon + 1;
  }
  std::set<std::string> found;
  for (const std::string_view text : patterns) collect(taken_apart(text), 0, mnemonics, 0, found);
  const auto before = typed.substr(0, typed.size() - mnemonics.back().size());
  std::vector<std::string> lines;
  lines.reserve(found.size());
  for (const std::string& mnemonic : found) lines.push_back(std::string(before) + mnemonic);
  return lines;
}

}  // namespace eyelevel::scpi
