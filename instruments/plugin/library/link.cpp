// SPDX-License-Identifier: Apache-2.0
#include "instruments/plugin/library/link.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <utility>

#include "instruments/plugin/declare.hpp"
#include "instruments/plugin/plugin.hpp"
#include "instruments/transport/error.hpp"

namespace eyelevel::plugin::library {

namespace {

constexpr std::size_t part_bytes = 65536;  // read at a time
// A read is given up between two looks only: a call of the plugin cannot be stopped.
constexpr uint32_t look_ms = 100;

// One call of a transport, which may never return: it owns all that the plugin touches.
struct Action {
  std::array<char, 257> failure{};  // one more than the plugin may use, so that it always ends
  int32_t outcome = EYELEVEL_FAILED;
  bool has_thrown = false;
  std::string bytes;  // to be written, or room for what is read
  std::uint64_t got = 0;
  int32_t is_end = 0;
  void* link = nullptr;
};

class PluginLink final : public transport::Link {
 public:
  PluginLink(std::shared_ptr<Library> library, std::shared_ptr<const eyelevel_transport> functions, std::string name,
             base::Timeline& timeline)
      : library_(std::move(library)), functions_(std::move(functions)), name_(std::move(name)), timeline_(timeline) {}
  ~PluginLink() override { close(); }

  const std::string& resource_name() const override { return name_; }

  task<> open(std::string address) {
    const auto action = co_await call([functions = functions_, address, ms = ms()](Action& a) {
      a.outcome = functions->open(address.c_str(), ms, &a.link, a.failure.data());
    });
    if (action->outcome == EYELEVEL_DONE && !action->link)
      refuse(base::ErrorCode::bad_answer, "it opened nothing and said that it did");
    require_done(*action, base::ErrorCode::no_connection);
    link_ = action->link;
  }

  task<> write(std::string_view message) override {
    require_open();
    const auto action =
        co_await call([functions = functions_, link = link_, text = std::string(message), ms = ms()](Action& a) {
          a.outcome =
              functions->write(link, reinterpret_cast<const uint8_t*>(text.data()), text.size(), ms, a.failure.data());
        });
    require_done(*action, base::ErrorCode::connection_lost);
  }

  task<> read(transport::Buffer& into, std::size_t most) override {
    into.clear();
    for (;;) {
      require_open();
      const auto action = co_await call([functions = functions_, link = link_](Action& a) {
        a.bytes.resize(part_bytes);
        a.outcome = functions->read(link, reinterpret_cast<uint8_t*>(a.bytes.data()), a.bytes.size(), &a.got, &a.is_end,
                                    look_ms, a.failure.data());
      });
      if (action->outcome == EYELEVEL_TIMED_OUT) continue;  // whoever waits has a deadline of their own
      require_done(*action, base::ErrorCode::connection_lost);
      if (action->got > part_bytes)
        refuse(base::ErrorCode::bad_answer,
               fmt::format("it says that it put {} bytes where {} have room", action->got, part_bytes));
      if (into.size() + action->got > most)
        refuse(base::ErrorCode::bad_answer, fmt::format("the answer is longer than the limit of {} bytes", most));
      into.append(action->bytes, 0, action->got);
      tell_progress(into);
      if (action->is_end == 0) continue;
      if (!into.empty() && into.back() == '\n') into.pop_back();
      co_return;
    }
  }

  task<> clear() override {
    require_open();
    const auto action = co_await call([functions = functions_, link = link_, ms = ms()](Action& a) {
      a.outcome = functions->clear(link, ms, a.failure.data());
    });
    require_done(*action, base::ErrorCode::connection_lost);
  }

  void close() noexcept override {
    if (!link_) return;
    void* link = std::exchange(link_, nullptr);
    library_->hand()->done_blocking(std::chrono::seconds(1), [functions = functions_, link] {
      try {
        functions->close(link);
      } catch (...) {
        return;  // it is closed as far as we are concerned
      }
    });
  }

 private:
  uint32_t ms() const {
    return static_cast<uint32_t>(
        std::chrono::duration_cast<std::chrono::milliseconds>(library_->manifest().answers_within).count());
  }

  task<std::shared_ptr<Action>> call(std::function<void(Action&)> make) {
    const auto action = std::make_shared<Action>();
    const auto work = [action, make = std::move(make)] {
      try {
        make(*action);
      } catch (...) {
        action->has_thrown = true;
      }
    };
    // A little more than the plugin was given, so that it can say itself that it was too long.
    const base::Duration limit = library_->manifest().answers_within + std::chrono::milliseconds(500);
    if (!co_await library_->hand()->done(timeline_, limit, work))
      refuse(base::ErrorCode::connection_lost, "it hangs, and is not asked again until it returns");
    if (action->has_thrown) refuse(base::ErrorCode::bad_answer, "it let an exception out, which the border forbids");
    co_return action;
  }

  void require_open() const {
    if (!link_) refuse(base::ErrorCode::connection_lost, "the link is closed");
  }

  void require_done(const Action& action, base::ErrorCode code) const {
    if (action.outcome == EYELEVEL_DONE) return;
    refuse(code,
           fmt::format("{}it says: {}", action.outcome == EYELEVEL_TIMED_OUT ? "in time nothing came about; " : "",
                       one_line({action.failure.data(), ::strnlen(action.failure.data(), 256)}, 256)));
  }

  [[noreturn]] void refuse(base::ErrorCode code, const std::string& what) const {
    transport::fail(code, name_, from_of(library_->manifest()) + ": " + what, "look at the plugin and its instrument");
  }

  std::shared_ptr<Library> library_;
  std::shared_ptr<const eyelevel_transport> functions_;
  std::string name_;
  base::Timeline& timeline_;
  void* link_ = nullptr;
};

}  // namespace

task<std::unique_ptr<transport::Link>> connect(std::shared_ptr<Library> library,
                                               std::shared_ptr<const eyelevel_transport> functions,
                                               transport::ResourceName name, base::Timeline& timeline) {
  auto link = std::make_unique<PluginLink>(std::move(library), std::move(functions), name.canonical(), timeline);
  co_await link->open(name.device);
  co_return link;
}

}  // namespace eyelevel::plugin::library
