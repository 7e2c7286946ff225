// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/usb_quirks.hpp"

#include <fmt/format.h>

#include <array>
#include <string>
#include <string_view>

#include "core/yaml/fields.hpp"

namespace eyelevel::phrasebook {
namespace {

using transport::usbtmc::Quirks;

struct Switch {
  std::string_view key;
  bool Quirks::* place;
  std::string_view help;
};

constexpr std::array switches{
    Switch{"header once", &Quirks::header_once, "only the first transfer of a long answer has a header"},
    Switch{"end too early", &Quirks::eom_too_early, "EOM is set before the end of a block"},
    Switch{"end missing", &Quirks::eom_missing, "EOM is never set"},
    Switch{"wrong tag", &Quirks::wrong_tag, "the header of an answer repeats another bTag"},
    Switch{"wrong message id", &Quirks::wrong_msg_id, "the header of an answer has MsgID 1 instead of 2"},
    Switch{"more than asked", &Quirks::more_than_asked, "more is sent than a request allows"},
    Switch{"short packets inside", &Quirks::short_packets_inside, "packets inside an answer are short"},
    Switch{"no capabilities", &Quirks::no_capabilities, "GET_CAPABILITIES must not be asked"},
    Switch{"no status request", &Quirks::no_status_request, "READ_STATUS_BYTE must not be asked; *STB? is"},
    Switch{"status in answer", &Quirks::status_in_answer,
           "the status byte comes in the answer although there is an Interrupt-IN endpoint"},
    Switch{"clear on open", &Quirks::clear_on_open, "needs a clear after opening"},
    Switch{"no clear", &Quirks::no_clear, "INITIATE_CLEAR must not be asked"},
    Switch{"no reset", &Quirks::no_reset, "its port must not be reset"},
    Switch{"assert remote", &Quirks::assert_remote, "ignores messages until REN is asserted"},
};

// Beyond the first the header of a transfer could not be counted in; the other keeps a size in 32 bits.
constexpr long long least_bytes = 4, most_bytes = 0x7FFFFFFF;
constexpr double most_pause_s = 10;

}  // namespace

yaml::KeyTable usb_table() {
  yaml::KeyTable table{"what is needed over USB", "what the family needs beyond USBTMC", {}};
  for (const Switch& one : switches)
    table.keys.push_back(
        {.name = std::string(one.key), .type = yaml::Type::yes_no, .help = std::string(one.help), .example = "yes"});
  table.keys.push_back({.name = "bytes per request",
                        .type = yaml::Type::count,
                        .help = "most that one request asks for (usual: 1048576)",
                        .example = "65536"});
  table.keys.push_back({.name = "bytes per transfer",
                        .type = yaml::Type::count,
                        .help = "most of a message that goes in one transfer (usual: 1048576)",
                        .example = "4096"});
  table.keys.push_back({.name = "pause between messages",
                        .type = yaml::Type::quantity,
                        .dimension = quantity::time,
                        .help = "from the end of one exchange to the next message",
                        .example = "20 ms"});
  return table;
}

Quirks read_usb(const yaml::Node& root, yaml::Mistakes& mistakes) {
  Quirks quirks;
  const yaml::Node* group = root.find("usb");
  if (group == nullptr) return quirks;
  const yaml::Fields fields(*group);
  for (const Switch& one : switches) quirks.*(one.place) = fields.yes_no(one.key).value_or(false);
  const auto bytes = [&](std::string_view key, std::uint32_t usual) {
    const long long count = fields.count(key).value_or(usual);
    if (count >= least_bytes && count <= most_bytes) return static_cast<std::uint32_t>(count);
    mistakes.add(group->find(key)->mark, fmt::format("'{}': {} bytes", key, count),
                 fmt::format("write a number from {} to {}", least_bytes, most_bytes));
    return usual;
  };
  quirks.most_request_bytes = bytes("bytes per request", quirks.most_request_bytes);
  quirks.most_out_bytes = bytes("bytes per transfer", quirks.most_out_bytes);
  const double pause_s = fields.quantity("pause between messages", quantity::time).value_or(0);
  if (pause_s >= 0 && pause_s <= most_pause_s) {
    quirks.pause_between_messages = base::from_seconds(pause_s);
  } else {
    mistakes.add(group->find("pause between messages")->mark, "'pause between messages': expected 0 s to 10 s",
                 "write pause between messages: 20 ms");
  }
  return quirks;
}

}  // namespace eyelevel::phrasebook
