// SPDX-License-Identifier: Apache-2.0
#include "sim/player/moved_lead.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

namespace eyelevel::sim {
namespace {

constexpr std::size_t most_moves = 1000;

}  // namespace

MovedLead::MovedLead(Places places, const std::string& first) : places_(std::move(places)) {
  moves_.push_back({-std::numeric_limits<double>::infinity(), places_.at(first)});
}

bool MovedLead::move(std::string_view place, double now_s) {
  const auto found = places_.find(place);
  if (found == places_.end()) return false;
  moves_.push_back({now_s, found->second});
  if (moves_.size() > most_moves) moves_.pop_front();
  return true;
}

std::size_t MovedLead::at(double time_s) const {
  for (std::size_t i = moves_.size(); i-- > 1;)
    if (moves_[i].from_s <= time_s) return i;
  return 0;
}

double MovedLead::until_s(std::size_t move) const {
  return move + 1 < moves_.size() ? moves_[move + 1].from_s : std::numeric_limits<double>::infinity();
}

void MovedLead::render(double start_s, double rate_hz, std::span<float> volts, const Load& load) {
  std::size_t move = at(start_s);
  for (std::size_t done = 0; done < volts.size(); ++move) {
    const double to_go = std::ceil((until_s(move) - start_s) * rate_hz) - static_cast<double>(done);
    const auto left = volts.size() - done;
    const auto count = to_go < static_cast<double>(left) ? static_cast<std::size_t>(std::max(0.0, to_go)) : left;
    const auto part = volts.subspan(done, count);
    if (moves_[move].to) {
      moves_[move].to->render(start_s + static_cast<double>(done) / rate_hz, rate_hz, part, load);
    } else {
      std::fill(part.begin(), part.end(), 0.0F);
    }
    done += count;
  }
}

double MovedLead::mean_v(double from_s, double until, const Load& load) {
  double sum = 0;
  for (double at_s = from_s; at_s < until;) {
    const std::size_t move = at(at_s);
    const double end_s = std::min(until, until_s(move));
    if (moves_[move].to) sum += (end_s - at_s) * moves_[move].to->mean_v(at_s, end_s, load);
    at_s = end_s;
  }
  return until > from_s ? sum / (until - from_s) : 0;
}

}  // namespace eyelevel::sim
