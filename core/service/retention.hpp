// SPDX-License-Identifier: Apache-2.0
// Old records make room by stated rules, once a day: samples of old runs are thinned out (core/report/thin_out), older
// runs go into archives (core/record/archive/put_away). A YAML file says which; what is not in it never happens.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "core/base/timeline.hpp"
#include "core/record/journal/store_thread.hpp"
#include "core/record/store/store.hpp"
#include "core/yaml/load.hpp"
#include "core/yaml/mistake.hpp"

namespace eyelevel::service {

struct RetentionRules {
  int minute = 0;  // of the day, by the clock on the wall
  std::optional<std::chrono::days> thin_out_after;
  std::optional<std::chrono::days> archive_after;
  std::filesystem::path archive_folder;
};

struct RetentionRead {
  RetentionRules rules;  // complete only if `mistakes.fine()`
  yaml::Mistakes mistakes;
};

// Whether the document is meant as one: its first key is `retention`.
bool is_retention(const yaml::Node& root);
RetentionRead read_retention(yaml::Document document);

// What was done, or in a dry run what would be.
struct Retained {
  base::UtcTime at{};
  bool is_dry = false;
  std::size_t runs_archived = 0;
  std::vector<std::string> archives;  // files
  std::size_t runs_thinned = 0;
  std::size_t captures = 0;  // whose samples went
  std::uint64_t samples = 0;
  std::vector<std::string> failures;  // one sentence each; what they concern stays as it was
};

enum class Dry { no, yes };
// Archives first, so that what goes there goes with all its samples. Blocks; asked to stop, it ends after the run or
// the archive it is at. Throws base::Error when the store cannot be read or written.
Retained retain(record::Store& store, const RetentionRules& rules, base::UtcTime now, const std::string& by, Dry dry,
                const std::stop_token& stop);

class Retention {
 public:
  // `open` gives a store of its own, so that no run waits for this; it is closed when the work is done. No rules:
  // nothing ever happens. References must outlive it.
  Retention(base::Timeline& timeline, std::optional<RetentionRules> rules,
            std::function<std::unique_ptr<record::Store>()> open);
  ~Retention();  // stops what is under way and waits for it
  Retention(const Retention&) = delete;
  Retention& operator=(const Retention&) = delete;

  const std::optional<RetentionRules>& rules() const { return rules_; }
  // The newest that was no dry run, and why the newest try failed as a whole; empty: it did not.
  const std::optional<Retained>& last() const { return last_; }
  const std::string& why_not() const { return why_not_; }
  std::optional<base::UtcTime> next_due() const;

  // Throws http::Problem(409) without rules, or while it is under way; what retain() throws.
  task<Retained> done(std::string by, Dry dry);
  // Every day, and some minutes after the beginning, for machines that are off at that time. Until cancelled.
  task<> keep();
  // What is under way ends soon, nothing more begins.
  void stop() { stop_.request_stop(); }

 private:
  base::Timeline& timeline_;
  std::optional<RetentionRules> rules_;
  std::function<std::unique_ptr<record::Store>()> open_;
  std::optional<Retained> last_;
  std::string why_not_;
  std::optional<base::UtcTime> due_;
  bool is_busy_ = false;
  std::stop_source stop_;
  record::StoreThread thread_;  // last: it ends before what it works with
};

}  // namespace eyelevel::service
