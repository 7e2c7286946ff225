// SPDX-License-Identifier: Apache-2.0
#include "core/guide/trimmer_model.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace eyelevel::guide {
namespace {

// Practice values: steepness over a decade with some room, play of 1 to 4 degrees, small ones more often.
constexpr double least_per_deg = 0.0025;
constexpr double most_per_deg = 0.034;
constexpr int steepnesses = 18;
constexpr std::array<double, 4> backlashes_deg{1.2, 1.8, 2.4, 3.6};
constexpr int places = 5;

// A hand: error of 1.5 degrees and 15 % of the turn; it never turns back without knowing.
constexpr double hand_deg = 1.5;
constexpr double hand_share = 0.15;
constexpr double hand_least_deg = 0.5;
constexpr double goes_the_wrong_way = 0.05;
constexpr double does_nothing = 0.03;  // forgotten, or another screw

// What moves a level between two landings of a good wiper, relative; and what a bad one does.
constexpr double landing = 0.007;
constexpr double bad_landing = 0.12;
constexpr double steepness_varies = 0.06;  // along the track, and off the straight line

constexpr double stops_following = 0.015;  // per turn: at the end of the track, or the driver at its limit
constexpr double follows_again = 0.05;
constexpr double seldom_followed = 0.02;   // from the beginning: another trimmer, the wrong pad
constexpr double seldom_at_limit = 0.015;  // from the beginning: a worn laser takes all the current of its driver
constexpr double bad_contacts = 0.02;

// A driver at its limit no longer holds the light, which falls as the laser warms up; turned down, it follows only when
// what was asked for in vain has been taken back, and nobody knows how much that is.
constexpr double warming = 0.02;
constexpr double taken_back = 0.5, taken_back_sd = 0.35;  // of the change of a turn downwards

constexpr double lightest = 1e-12;  // a weight that is not carried on
constexpr double nearness_falls = 4;

// The hand's error in standard deviations, and the weights of a normal distribution there.
constexpr int nodes = 13;
constexpr double furthest_node = 3.0;
struct Node {
  double at, weight;
};
std::array<Node, nodes> hand_nodes() {
  std::array<Node, nodes> all{};
  double sum = 0;
  for (int i = 0; i < nodes; ++i) {
    const double at = furthest_node * (2.0 * i / (nodes - 1) - 1);
    all[static_cast<std::size_t>(i)] = {at, std::exp(-at * at / 2)};
    sum += all[static_cast<std::size_t>(i)].weight;
  }
  for (Node& node : all) node.weight /= sum;
  return all;
}

double screw_deg(double asked_deg, const Node& node) {
  return std::copysign(std::max(hand_least_deg, std::abs(asked_deg) + node.at * hand_sd_deg(asked_deg)), asked_deg);
}

double upper_tail(double z) { return std::erfc(z / std::numbers::sqrt2) / 2; }

}  // namespace

double hand_sd_deg(double asked_deg) { return hand_deg + hand_share * std::abs(asked_deg); }

TrimmerModel::TrimmerModel(const TrimmerPrior& prior) : prior_(prior) {
  const std::array<std::pair<Kind, double>, 4> kinds{
      {{Kind::follows, 1 - seldom_followed - seldom_at_limit - bad_contacts},
       {Kind::does_not_follow, seldom_followed},
       {Kind::at_limit, seldom_at_limit},
       {Kind::bad_contact, bad_contacts}}};
  for (const auto& [kind, of_kind] : kinds)
    for (const bool raises : {true, false})
      for (int i = 0; i < steepnesses; ++i)
        for (const double backlash_deg : backlashes_deg)
          for (int place = 0; place < places; ++place) {
            const double share = static_cast<double>(i) / (steepnesses - 1);
            const double of_sense = raises ? prior.clockwise_raises : 1 - prior.clockwise_raises;
            cells_.push_back({kind, raises, least_per_deg * std::pow(most_per_deg / least_per_deg, share), backlash_deg,
                              place, of_kind * of_sense / (steepnesses * backlashes_deg.size() * places)});
          }
}

double TrimmerModel::coordinate(double reading) const {
  return prior_.growth == Growth::as_light ? -prior_.scale / reading : reading / prior_.scale;
}

double TrimmerModel::reading(double coordinate) const {
  if (prior_.growth == Growth::evenly) return coordinate * prior_.scale;
  constexpr double brightest = -0.1;  // ten times the scale: beyond what any laser gives
  return -prior_.scale / std::min(coordinate, brightest);
}

TrimmerModel::Moved TrimmerModel::move(const Cell& cell, double screw_deg) {
  const double at_deg = cell.backlash_deg * cell.place / (places - 1);
  const double reached_deg = at_deg + screw_deg;
  const double in_play_deg = std::clamp(reached_deg, 0.0, cell.backlash_deg);
  return {reached_deg - in_play_deg, in_play_deg / cell.backlash_deg};
}

// What can change from turn to turn.
void TrimmerModel::step_kinds() {
  const std::size_t of_kind = cells_.size() / 4;
  for (std::size_t i = 0; i < of_kind; ++i) {
    double& follows = cells_[i].weight;
    double& stuck = cells_[of_kind + i].weight;
    double& at_limit = cells_[2 * of_kind + i].weight;
    const double lost = follows * stops_following, won = stuck * follows_again;
    follows += won - lost;
    stuck += lost / 2 - won;
    at_limit += lost / 2;
  }
}

void TrimmerModel::push(const Turned& turned) {
  static const std::array<Node, nodes> hand = hand_nodes();
  step_kinds();
  const double from = coordinate(turned.before);
  const double seen = coordinate(turned.after) - from;
  const double per_unit = prior_.growth == Growth::as_light
                              ? prior_.scale / (turned.before * turned.after)
                              : 1 / prior_.scale;  // of the coordinate per unit of the reading
  const double measured = turned.uncertainty * per_unit;
  std::vector<double> weights(cells_.size(), 0);
  for (std::size_t i = 0; i < cells_.size(); ++i) {
    const Cell& cell = cells_[i];
    if (cell.weight < lightest) continue;
    const std::size_t first = i - static_cast<std::size_t>(cell.place);
    const auto outcome = [&](double chance, double screw) {
      const Moved moved = move(cell, screw);
      const double asked_for = cell.per_deg * moved.wiper_deg * (cell.clockwise_raises ? 1 : -1);
      const auto [expected, sd] = change_of(cell.kind, asked_for, measured);
      const double off = (seen - expected) / sd;
      const double weight = cell.weight * chance * std::exp(-off * off / 2) / sd;
      const double place = moved.place * (places - 1);
      const auto below = std::min(static_cast<std::size_t>(place), static_cast<std::size_t>(places - 2));
      const double share = place - static_cast<double>(below);
      weights[first + below] += weight * (1 - share);
      weights[first + below + 1] += weight * share;
    };
    outcome(does_nothing, 0);
    for (const Node& node : hand) {
      const double screw = screw_deg(turned.asked_deg, node);
      outcome((1 - does_nothing - goes_the_wrong_way) * node.weight, screw);
      outcome(goes_the_wrong_way * node.weight, -screw);
    }
  }
  keep_weights(std::move(weights));
}

// Something that no hypothesis foresaw leaves them all as they were.
void TrimmerModel::keep_weights(std::vector<double> weights) {
  double sum = 0;
  for (const double weight : weights) sum += weight;
  if (!(sum > 0)) return;
  for (std::size_t i = 0; i < cells_.size(); ++i) cells_[i].weight = weights[i] / sum;
}

// What the turn changes of the coordinate, and how sure that is.
TrimmerModel::Change TrimmerModel::change_of(Kind kind, double asked_for, double measured) {
  switch (kind) {
    case Kind::does_not_follow: return {0, std::hypot(measured, landing)};
    case Kind::at_limit:
      if (asked_for > 0) return {0, std::hypot(measured, warming)};
      return {taken_back * asked_for, std::hypot(measured, warming, taken_back_sd * asked_for)};
    case Kind::bad_contact: return {asked_for, std::hypot(measured, bad_landing, steepness_varies * asked_for)};
    case Kind::follows: break;
  }
  return {asked_for, std::hypot(measured, landing, steepness_varies * asked_for)};
}

double TrimmerModel::clockwise_raises() const {
  double sum = 0;
  for (const Cell& cell : cells_)
    if (cell.clockwise_raises) sum += cell.weight;
  return sum;
}

double TrimmerModel::weight_of(Kind kind) const {
  double sum = 0;
  for (const Cell& cell : cells_)
    if (cell.kind == kind) sum += cell.weight;
  return sum;
}

double TrimmerModel::follows() const { return 1 - weight_of(Kind::does_not_follow); }
double TrimmerModel::is_at_limit() const { return weight_of(Kind::at_limit); }
double TrimmerModel::contact_is_bad() const { return weight_of(Kind::bad_contact); }

double TrimmerModel::steepness_per_deg() const {
  double log_sum = 0;
  for (const Cell& cell : cells_) log_sum += cell.weight * std::log(cell.per_deg);
  return std::exp(log_sum);
}

template <class F>
void TrimmerModel::outcomes(double from, double asked_deg, double lightest_cell, F f) const {
  static const std::array<Node, nodes> hand = hand_nodes();
  const double at = coordinate(from);
  for (const Cell& cell : cells_) {
    // Turns are chosen for what they do if anything can be done; what comes of them tells whether it can.
    if (cell.kind == Kind::does_not_follow || cell.kind == Kind::at_limit || cell.weight < lightest_cell) continue;
    const double per_deg = cell.clockwise_raises ? cell.per_deg : -cell.per_deg;
    for (const Node& node : hand)
      f(cell.weight * node.weight, at + per_deg * move(cell, screw_deg(asked_deg, node)).wiper_deg);
  }
}

Predicted TrimmerModel::predict(double from, double asked_deg) const {
  constexpr double of_note = 1e-6;
  std::vector<std::pair<double, double>> all;  // coordinate, weight
  double sum = 0;
  outcomes(from, asked_deg, of_note, [&](double weight, double at) {
    all.emplace_back(at, weight);
    sum += weight;
  });
  if (all.empty()) return {from, from, from};
  std::sort(all.begin(), all.end());
  const auto quantile = [&](double share) {
    double so_far = 0;
    for (const auto& [at, weight] : all)
      if ((so_far += weight) >= share * sum) return reading(at);
    return reading(all.back().first);
  };
  return {quantile(0.5), quantile(0.025), quantile(0.975)};
}

double TrimmerModel::nearness(double from, double asked_deg, double least, double most) const {
  constexpr double of_note = 1e-4;  // each cell; there are some thousands, most of them far from what was seen
  const double low = coordinate(least), high = coordinate(most);
  const double width = high - low;
  double near = 0, sum = 0;
  outcomes(from, asked_deg, of_note, [&](double weight, double at) {
    const double off = std::max({0.0, low - at, at - high}) / width;
    sum += weight;
    near += weight / (1 + off * off * nearness_falls);
  });
  return sum > 0 ? near / sum : 0;
}

double TrimmerModel::above(double from, double uncertainty, double asked_deg, double ceiling) const {
  const double to_go = coordinate(ceiling) - coordinate(from);
  const double measured = std::abs(coordinate(from + uncertainty) - coordinate(from));
  const double still = std::hypot(measured, landing);
  const double hand = hand_sd_deg(asked_deg);
  double probability = 0;
  for (const Cell& cell : cells_) {
    const bool rests = cell.kind == Kind::does_not_follow || cell.kind == Kind::at_limit;
    const double weight = cell.weight * (rests ? follows_again : 1);
    if (weight < lightest) continue;
    if ((asked_deg > 0) != cell.clockwise_raises) {
      probability += weight * upper_tail(to_go / still);
      continue;
    }
    const double in_play = static_cast<double>(cell.place) / (places - 1);
    const double free_deg = cell.backlash_deg * (asked_deg > 0 ? 1 - in_play : in_play);
    const double needed_deg = to_go / cell.per_deg;
    const double sd_deg = std::hypot(hand, still / cell.per_deg, steepness_varies * needed_deg);
    probability += weight * upper_tail((needed_deg + free_deg - std::abs(asked_deg)) / sd_deg);
  }
  return probability;
}

}  // namespace eyelevel::guide
