// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/relay_box.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "core/base/error.hpp"
#include "instruments/phrasebook/conversation.hpp"

namespace eyelevel::phrasebook {
namespace {

using bench::SettingTaken;
using bench::WayEntry;
using scpi::ProgramBuilder;
using scpi::ResponseReader;

class PhrasebookRelayBox final : public bench::RelayBox {
 public:
  PhrasebookRelayBox(base::Timeline& timeline, Phrasebook book, std::unique_ptr<transport::Session> session,
                     std::vector<WayEntry> ways)
      : talk_(timeline, std::move(session), book.common),
        phrases_(std::get<RelayBoxPhrases>(book.phrases)),
        ways_(std::move(ways)) {}

  task<std::string> greet(base::Duration within) override { return talk_.greet(talk_.deadline(within)); }
  task<> make_safe(base::Duration within) override;
  void close() noexcept override { talk_.close(); }
  task<std::optional<int>> self_test(base::Duration within) override { return talk_.self_test(talk_.deadline(within)); }
  task<std::vector<SettingTaken>> close_only(const std::vector<std::string>& ways, base::Duration within) override;
  task<std::vector<std::string>> closed(base::Duration within) override;

 private:
  std::vector<bool> chosen(const std::vector<std::string>& names) const;
  std::vector<int> numbers(const std::vector<bool>& which) const;
  task<std::vector<bool>> read_ways(Deadline deadline);
  task<> prove(const std::vector<bool>& wanted, Deadline deadline);
  task<> open_all(Deadline deadline);

  Conversation talk_;
  RelayBoxPhrases phrases_;
  std::vector<WayEntry> ways_;
};

// For each way of the bench file whether it is named.
std::vector<bool> PhrasebookRelayBox::chosen(const std::vector<std::string>& names) const {
  std::vector<bool> which(ways_.size(), false);
  for (const std::string& name : names) {
    const auto it = std::find_if(ways_.begin(), ways_.end(), [&](const auto& way) { return way.name == name; });
    if (it == ways_.end())
      talk_.refuse(base::ErrorCode::bad_input, fmt::format("the bench file has no way '{}'", name),
                   "name the way in the bench file with the number of its relay");
    which[static_cast<std::size_t>(it - ways_.begin())] = true;
  }
  return which;
}

std::vector<int> PhrasebookRelayBox::numbers(const std::vector<bool>& which) const {
  std::vector<int> list;
  for (std::size_t i = 0; i < ways_.size(); ++i)
    if (which[i]) list.push_back(ways_[i].channel);
  return list;
}

task<std::vector<bool>> PhrasebookRelayBox::read_ways(Deadline deadline) {
  std::vector<bool> is(ways_.size(), false);
  if (ways_.empty()) co_return is;
  ProgramBuilder ask;
  ask.query(phrases_.close).channels(numbers(std::vector<bool>(ways_.size(), true)));
  co_await talk_.ask(
      std::move(ask),
      [&](ResponseReader& answer) {
        for (std::size_t i = 0; i < is.size(); ++i) is[i] = answer.boolean();
      },
      deadline);
  co_return is;
}

task<> PhrasebookRelayBox::prove(const std::vector<bool>& wanted, Deadline deadline) {
  const std::vector<bool> is = co_await read_ways(deadline);
  for (std::size_t i = 0; i < is.size(); ++i) {
    if (is[i] == wanted[i]) continue;
    talk_.not_taken(fmt::format("way '{}' (relay {})", ways_[i].name, ways_[i].channel), wanted[i] ? "closed" : "open",
                    is[i] ? "closed" : "open",
                    wanted[i] ? "has the instrument this relay?" : "switch the instrument off by hand");
  }
}

task<> PhrasebookRelayBox::open_all(Deadline deadline) {
  ProgramBuilder tell;
  tell.command(phrases_.open_all).query(talk_.phrases().completed);
  co_await talk_.wait_for(tell, "the relays did not open", "switch the instrument off by hand", deadline);
}

task<std::vector<SettingTaken>> PhrasebookRelayBox::close_only(const std::vector<std::string>& ways,
                                                               base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  const std::vector<bool> wanted = chosen(ways);
  co_await open_all(deadline);
  co_await prove(std::vector<bool>(ways_.size(), false), deadline);
  const std::vector<int> list = numbers(wanted);
  if (!list.empty()) {
    ProgramBuilder tell;
    tell.command(phrases_.close).channels(list).query(talk_.phrases().completed);
    co_await talk_.wait_for(tell, "the relays did not close", "has the instrument these relays?", deadline);
    co_await prove(wanted, deadline);
  }
  std::vector<SettingTaken> taken;
  for (std::size_t i = 0; i < ways_.size(); ++i) {
    const std::string state = wanted[i] ? "closed" : "open";
    taken.push_back({"way " + ways_[i].name, state, state});
  }
  co_return taken;
}

task<std::vector<std::string>> PhrasebookRelayBox::closed(base::Duration within) {
  const std::vector<bool> is = co_await read_ways(talk_.deadline(within));
  std::vector<std::string> names;
  for (std::size_t i = 0; i < is.size(); ++i)
    if (is[i]) names.push_back(ways_[i].name);
  co_return names;
}

task<> PhrasebookRelayBox::make_safe(base::Duration within) {
  const Deadline deadline = talk_.deadline(within);
  ProgramBuilder tell;
  co_await talk_.tell(tell.command(phrases_.open_all), deadline);
  // Whatever errors an earlier fault left behind do not keep it from being safe.
  co_await talk_.make_safe(deadline);
  co_await prove(std::vector<bool>(ways_.size(), false), deadline);
}

}  // namespace

std::unique_ptr<bench::RelayBox> open_relay_box(base::Timeline& timeline, const Phrasebook& phrasebook,
                                                std::unique_ptr<transport::Session> session,
                                                std::vector<bench::WayEntry> ways) {
  if (!std::holds_alternative<RelayBoxPhrases>(phrasebook.phrases)) refuse_other_kind(phrasebook, "relay box");
  return std::make_unique<PhrasebookRelayBox>(timeline, phrasebook, std::move(session), std::move(ways));
}

}  // namespace eyelevel::phrasebook
