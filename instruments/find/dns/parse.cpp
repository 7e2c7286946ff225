// SPDX-License-Identifier: Apache-2.0
#include <fmt/format.h>

#include <algorithm>

#include "instruments/find/dns/message.hpp"

namespace eyelevel::find::dns {
namespace {

struct Fault {
  std::size_t at;
  std::string why;
};

// Reads from the front; `end` is the end of the part that may be read on, names may point anywhere before it.
class Reader {
 public:
  explicit Reader(std::string_view bytes) : bytes_(bytes), end_(bytes.size()) {}

  std::size_t at() const { return at_; }
  std::size_t left() const { return end_ - at_; }

  std::uint8_t u8(std::string_view what) { return byte(take(1, what)); }
  std::uint16_t u16(std::string_view what) {
    const std::size_t i = take(2, what);
    return static_cast<std::uint16_t>(byte(i) << 8U | byte(i + 1));
  }
  std::uint32_t u32(std::string_view what) {
    const std::uint32_t high = u16(what);
    return high << 16U | u16(what);
  }
  std::string_view some(std::size_t count, std::string_view what) { return bytes_.substr(take(count, what), count); }

  // RFC 1035, 4.1.4. Each jump must go before the place where the last one landed (at first: before this name), so that
  // there are fewer jumps than bytes; the length of the name bounds the work of each.
  Name name(std::string_view what) {
    Name name;
    std::size_t bytes = 1;
    std::size_t place = at_;
    std::size_t bound = at_;  // a pointer must point before this
    std::size_t end = end_;   // labels must end before this
    bool jumped = false;
    for (;;) {
      if (place >= end) throw Fault{place, fmt::format("{}: the name has no end", what)};
      const std::size_t length = byte(place);
      if ((length & 0xC0U) == 0xC0U) {
        if (place + 1 >= end) throw Fault{place, fmt::format("{}: half a compression pointer", what)};
        const std::size_t target = (length & 0x3FU) << 8U | byte(place + 1);
        if (!jumped) at_ = place + 2;
        if (target >= bound)
          throw Fault{place, fmt::format("{}: a compression pointer to byte {}, which is not before the name that it "
                                         "continues",
                                         what, target)};
        jumped = true;
        place = bound = target;
        end = bytes_.size();
        continue;
      }
      if (length > most_label_bytes) throw Fault{place, fmt::format("{}: label type {:#04x}", what, length & 0xC0U)};
      if (length == 0) break;
      if (place + 1 + length > end) throw Fault{place, fmt::format("{}: the label goes past the end", what)};
      bytes += 1 + length;
      if (bytes > most_name_bytes)
        throw Fault{place, fmt::format("{}: a name of more than {} bytes", what, most_name_bytes)};
      name.labels.emplace_back(bytes_.substr(place + 1, length));
      place += 1 + length;
    }
    if (!jumped) at_ = place + 1;
    return name;
  }

  // Reads on only to `count` bytes from here.
  void narrow(std::size_t count, std::string_view what) {
    if (count > left()) throw Fault{at_, fmt::format("{}: {} bytes are announced, {} follow", what, count, left())};
    end_ = at_ + count;
  }
  void widen() { end_ = bytes_.size(); }

 private:
  std::size_t take(std::size_t count, std::string_view what) {
    if (count > left()) throw Fault{at_, fmt::format("{}: {} bytes are expected, {} follow", what, count, left())};
    const std::size_t here = at_;
    at_ += count;
    return here;
  }
  unsigned char byte(std::size_t i) const { return static_cast<unsigned char>(bytes_[i]); }

  std::string_view bytes_;
  std::size_t at_ = 0;
  std::size_t end_;
};

template <std::size_t N>
std::array<std::uint8_t, N> address(std::string_view bytes) {
  std::array<std::uint8_t, N> out{};
  std::copy(bytes.begin(), bytes.end(), out.begin());
  return out;
}

Data data_of(Reader& reader, Type type) {
  switch (type) {
    case Type::ptr: return Ptr{reader.name("PTR")};
    case Type::srv: {
      Srv srv;
      srv.priority = reader.u16("SRV priority");
      srv.weight = reader.u16("SRV weight");
      srv.port = reader.u16("SRV port");
      srv.target = reader.name("SRV target");
      return srv;
    }
    case Type::txt: {
      Txt txt;
      while (reader.left() > 0) txt.strings.emplace_back(reader.some(reader.u8("TXT length"), "TXT string"));
      return txt;
    }
    case Type::a: return A{address<4>(reader.some(4, "A"))};
    case Type::aaaa: return Aaaa{address<16>(reader.some(16, "AAAA"))};
    case Type::any: break;
  }
  return Other{std::string(reader.some(reader.left(), "data"))};
}

Question question(Reader& reader) {
  Question question;
  question.name = reader.name("question");
  question.type = static_cast<Type>(reader.u16("question type"));
  const auto dns_class = reader.u16("question class");
  question.unicast = (dns_class & 0x8000U) != 0;
  question.dns_class = dns_class & 0x7FFFU;
  return question;
}

Record record(Reader& reader) {
  Record record;
  record.name = reader.name("record");
  record.type = static_cast<Type>(reader.u16("record type"));
  const auto dns_class = reader.u16("record class");
  record.flush = (dns_class & 0x8000U) != 0;
  record.dns_class = dns_class & 0x7FFFU;
  record.ttl_s = reader.u32("time to live");
  reader.narrow(reader.u16("data length"), "data");
  record.data = data_of(reader, record.type);
  if (reader.left() > 0) throw Fault{reader.at(), fmt::format("{} bytes too many in the data", reader.left())};
  reader.widen();
  return record;
}

Message message(Reader& reader) {
  Message message;
  message.id = reader.u16("header");
  const auto flags = reader.u16("header");
  message.response = (flags & 0x8000U) != 0;
  message.opcode = static_cast<std::uint8_t>(flags >> 11U & 0xFU);
  message.authoritative = (flags & 0x0400U) != 0;
  message.truncated = (flags & 0x0200U) != 0;
  message.response_code = static_cast<std::uint8_t>(flags & 0xFU);
  std::array<std::size_t, 4> counts{};
  for (auto& count : counts) count = reader.u16("header");
  // No room is made for what is only announced.
  for (std::size_t i = 0; i < counts[0]; ++i) message.questions.push_back(question(reader));
  for (std::size_t i = 0; i < counts[1]; ++i) message.answers.push_back(record(reader));
  for (std::size_t i = 0; i < counts[2]; ++i) message.authorities.push_back(record(reader));
  for (std::size_t i = 0; i < counts[3]; ++i) message.additionals.push_back(record(reader));
  return message;
}

}  // namespace

Parsed parse(std::string_view bytes) {
  if (bytes.size() > most_message_bytes)
    return {std::nullopt, fmt::format("{} bytes; {} are allowed", bytes.size(), most_message_bytes)};
  try {
    Reader reader(bytes);
    return {message(reader), {}};
  } catch (const Fault& fault) {
    return {std::nullopt, fmt::format("byte {}: {}", fault.at, fault.why)};
  }
}

}  // namespace eyelevel::find::dns
