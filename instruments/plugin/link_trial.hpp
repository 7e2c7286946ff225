// SPDX-License-Identifier: Apache-2.0
// What a transport of a plugin must keep, as calls that throw base::Error when it does not. All of them open what the
// example of the part names, and ask it who it is (IEEE 488.2 10.14), which changes nothing in an instrument.
#pragma once

#include <functional>
#include <string>

#include "instruments/plugin/plugin.hpp"

namespace eyelevel::plugin {

class LinkTrial {
 public:
  // `example` is `resource: PLUGIN::name::address`; throws Error(bad_answer) when it is not. The plugin's link outlives
  // the trial.
  LinkTrial(const Plugin::Link& link, const std::string& example, base::Duration answers_within);

  // Empty when the link opens, else its own words for why it does not: the instrument need not be there.
  std::string why_closed() const;
  // Asked twice, it answers twice alike, and once more when it was closed and opened again.
  void answers() const;
  // A read for which there is no answer lasts until whoever reads gives up.
  void waits() const;
  // After a clear nothing is left of an answer that nobody has read, and the next question has its own.
  void clears() const;

 private:
  void with_link(const std::function<task<>(transport::Link&, base::Timeline&)>& use) const;
  task<std::string> asked(transport::Link& link, base::Timeline& timeline) const;
  static task<> require_silence(transport::Link& link, base::Timeline& timeline, std::string what);

  const Plugin::Link& link_;
  transport::ResourceName resource_;
  base::Duration limit_;
};

}  // namespace eyelevel::plugin
