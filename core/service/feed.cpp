// SPDX-License-Identifier: Apache-2.0
#include "core/service/feed.hpp"

#include <algorithm>
#include <boost/json.hpp>
#include <utility>

#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"

namespace eyelevel::service {

void Feed::tell(const event::Event& event) {
  if (event.run != run_) {
    run_ = event.run;
    runs_.push_back(run_);
    if (runs_.size() > runs_most) runs_.pop_front();
  }
  last_number_ = event.number;
  told_.push_back({run_, event.number, std::make_shared<const std::string>(record::text_of(record::to_json(event)))});
  if (told_.size() > kept_most) told_.pop_front();
  changed_.strike();
}

void Feed::tell_bench(std::string text) {
  if (text == bench_) return;
  bench_ = std::move(text);
  ++bench_version_;
  changed_.strike();
}

void Feed::tell_look(std::string text, std::string picture) {
  look_ = std::move(text);
  look_picture_ = std::move(picture);
  ++look_version_;
  changed_.strike();
}

void Feed::tell_jobs() {
  ++jobs_version_;
  changed_.strike();
}

Feed::Kept Feed::after(const Position& position, std::size_t at_most) const {
  Kept kept;
  kept.last = position.number;
  // Numbers of a run have no gaps, and runs of a bench come one after the other.
  auto at = std::find_if(told_.begin(), told_.end(), [&](const Told& told) { return told.run == position.run; });
  if (at == told_.end() || at->number > position.number + 1) {
    kept.is_kept = false;
    return kept;
  }
  for (; at != told_.end() && at->run == position.run && kept.events.size() < at_most; ++at) {
    if (at->number <= position.number) continue;
    kept.events.push_back(at->text);
    kept.last = at->number;
  }
  return kept;
}

std::vector<std::string> Feed::runs_after(const std::string& run) const {
  const auto at = std::find(runs_.begin(), runs_.end(), run);
  return at == runs_.end() ? std::vector<std::string>(runs_.begin(), runs_.end())
                           : std::vector<std::string>(at + 1, runs_.end());
}

}  // namespace eyelevel::service
