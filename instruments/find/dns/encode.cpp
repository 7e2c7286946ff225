// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <map>
#include <stdexcept>

#include "instruments/find/dns/message.hpp"

namespace eyelevel::find::dns {
namespace {

class Writer {
 public:
  void u8(std::size_t value) { bytes_ += static_cast<char>(value & 0xFFU); }
  void u16(std::size_t value) {
    u8(value >> 8U);
    u8(value);
  }
  void u32(std::uint32_t value) {
    u16(value >> 16U);
    u16(value);
  }
  void raw(std::string_view bytes) { bytes_ += bytes; }
  template <std::size_t N>
  void raw(const std::array<std::uint8_t, N>& bytes) {
    for (const auto b : bytes) u8(b);
  }

  // Ends of names that stand within reach of a pointer's 14 bits are pointed at, in the case in which they stand.
  void name(const Name& name, bool compressed) {
    std::size_t total = 1;
    for (const auto& label : name.labels) {
      if (label.empty() || label.size() > most_label_bytes)
        throw std::invalid_argument(fmt::format("a label of {} bytes in a DNS name", label.size()));
      total += 1 + label.size();
    }
    if (total > most_name_bytes) throw std::invalid_argument(fmt::format("a DNS name of {} bytes", total));
    for (std::size_t i = 0; i < name.labels.size(); ++i) {
      const std::vector<std::string> rest(name.labels.begin() + static_cast<std::ptrdiff_t>(i), name.labels.end());
      if (const auto known = places_.find(rest); compressed && known != places_.end()) {
        u16(0xC000U | known->second);
        return;
      }
      if (bytes_.size() < 0x4000U) places_.emplace(rest, bytes_.size());
      u8(name.labels[i].size());
      raw(name.labels[i]);
    }
    u8(0);
  }

  // The length is written when the data is there.
  template <class Write>
  void counted(Write write) {
    const std::size_t at = bytes_.size();
    u16(0);
    write();
    const std::size_t count = bytes_.size() - at - 2;
    if (count > 0xFFFFU) throw std::length_error(fmt::format("a DNS record of {} bytes", count));
    bytes_[at] = static_cast<char>(count >> 8U);
    bytes_[at + 1] = static_cast<char>(count & 0xFFU);
  }

  std::string take() { return std::move(bytes_); }

 private:
  std::string bytes_;
  std::map<std::vector<std::string>, std::size_t> places_;
};

void write_data(Writer& out, const Other& data) { out.raw(data.bytes); }
void write_data(Writer& out, const Ptr& data) { out.name(data.target, true); }
void write_data(Writer& out, const Srv& data) {
  out.u16(data.priority);
  out.u16(data.weight);
  out.u16(data.port);
  out.name(data.target, false);
}
void write_data(Writer& out, const Txt& data) {
  if (data.strings.empty()) out.u8(0);  // RFC 6763, 6.1: never no string at all
  for (const auto& text : data.strings) {
    if (text.size() > 255) throw std::invalid_argument(fmt::format("a TXT string of {} bytes", text.size()));
    out.u8(text.size());
    out.raw(text);
  }
}
void write_data(Writer& out, const A& data) { out.raw(data.address); }
void write_data(Writer& out, const Aaaa& data) { out.raw(data.address); }

void write(Writer& out, const Question& question) {
  out.name(question.name, true);
  out.u16(static_cast<std::uint16_t>(question.type));
  out.u16(question.dns_class | (question.unicast ? 0x8000U : 0U));
}

void write(Writer& out, const Record& record) {
  out.name(record.name, true);
  out.u16(static_cast<std::uint16_t>(record.type));
  out.u16(record.dns_class | (record.flush ? 0x8000U : 0U));
  out.u32(record.ttl_s);
  out.counted([&] { std::visit([&](const auto& data) { write_data(out, data); }, record.data); });
}

}  // namespace

std::string encode(const Message& message, std::size_t most) {
  Writer out;
  out.u16(message.id);
  out.u16((message.response ? 0x8000U : 0U) | (message.opcode & 0xFU) << 11U | (message.authoritative ? 0x0400U : 0U) |
          (message.truncated ? 0x0200U : 0U) | (message.response_code & 0xFU));
  for (const std::size_t count :
       {message.questions.size(), message.answers.size(), message.authorities.size(), message.additionals.size()}) {
    if (count > 0xFFFFU) throw std::length_error(fmt::format("{} records in a DNS message", count));
    out.u16(count);
  }
  for (const auto& question : message.questions) write(out, question);
  for (const auto* section : {&message.answers, &message.authorities, &message.additionals})
    for (const auto& record : *section) write(out, record);
  auto bytes = out.take();
  if (bytes.size() > most)
    throw std::length_error(fmt::format("a DNS message of {} bytes; {} are allowed", bytes.size(), most));
  return bytes;
}

}  // namespace eyelevel::find::dns
