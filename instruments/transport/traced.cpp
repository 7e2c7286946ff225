// SPDX-License-Identifier: Apache-2.0
#include "instruments/transport/traced.hpp"

#include <string>
#include <utility>

namespace eyelevel::transport {
namespace {

class TracedLink final : public Link {
 public:
  TracedLink(std::unique_ptr<Link> link, const base::Timeline& timeline, std::function<void(const Traced&)> tell)
      : link_(std::move(link)), timeline_(timeline), tell_(std::move(tell)) {}

  const std::string& resource_name() const override { return link_->resource_name(); }

  task<> write(std::string_view message) override {
    told("sent", message);
    co_await link_->write(message);
  }

  task<> read(Buffer& into, std::size_t most) override {
    try {
      co_await link_->read(into, most);
    } catch (...) {
      if (!into.empty()) told("came in part", into);
      throw;
    }
    told("came", into);
  }

  task<> clear() override {
    co_await link_->clear();
    told("cleared");
  }

  task<> trigger() override {
    told("triggered");
    co_await link_->trigger();
  }

  task<std::uint8_t> status_byte() override {
    const std::uint8_t status = co_await link_->status_byte();
    told("polled", std::to_string(status));
    co_return status;
  }

  task<> wait_for_service() override {
    co_await link_->wait_for_service();
    told("asked for service");
  }

  task<> lock(std::string key, base::Duration wait) override {
    co_await link_->lock(std::move(key), wait);
    told("locked");
  }

  task<> unlock() override {
    co_await link_->unlock();
    told("unlocked");
  }

  task<> remote_local(RemoteLocal what) override {
    told(what == RemoteLocal::local ? "local" : what == RemoteLocal::remote ? "remote" : "locked out");
    co_await link_->remote_local(what);
  }

  task<std::string> why_silent() override { return link_->why_silent(); }
  std::string ignored() const override { return link_->ignored(); }
  void on_progress(Progress told) override { link_->on_progress(std::move(told)); }

  void close() noexcept override {
    link_->close();
    told("closed");
  }

 private:
  void told(std::string_view what, std::string_view bytes = {}) const noexcept {
    tell_({timeline_.now(), what, bytes});
  }

  std::unique_ptr<Link> link_;
  const base::Timeline& timeline_;
  std::function<void(const Traced&)> tell_;
};

}  // namespace

std::unique_ptr<Link> traced(std::unique_ptr<Link> link, const base::Timeline& timeline,
                             std::function<void(const Traced&)> tell) {
  return std::make_unique<TracedLink>(std::move(link), timeline, std::move(tell));
}

}  // namespace eyelevel::transport
