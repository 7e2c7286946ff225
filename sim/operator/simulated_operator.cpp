// SPDX-License-Identifier: Apache-2.0
#include "sim/operator/simulated_operator.hpp"

#include <algorithm>
#include <cctype>
#include <cmath>

#include "sim/operator/inspection.hpp"

namespace eyelevel::sim {
namespace {

constexpr double glance_s = 0.5;
constexpr int starts_tried = 3;
constexpr double mean_absence_s = 300;
constexpr double longest_listening_s = 60;
constexpr double turn_error_deg = 1.5;
constexpr double turn_error_share = 0.15;
constexpr double smallest_turn_deg = 0.5;  // a hand never turns the other way without knowing

std::string lower(std::string_view text) {
  std::string out(text);
  std::transform(out.begin(), out.end(), out.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return out;
}

}  // namespace

OperatorMistakes usual_mistakes(bool careful) {
  return careful ? OperatorMistakes{0.005, 0.005, 0.002, 0.02, 0.01} : OperatorMistakes{0.03, 0.03, 0.03, 0.10, 0.01};
}

SimulatedOperator::SimulatedOperator(Player& player, base::Timeline& timeline,
                                     std::vector<std::shared_ptr<const Disc>> box, std::uint64_t seed,
                                     OperatorTraits traits)
    : player_(player),
      timeline_(timeline),
      box_(std::move(box)),
      chance_(seed, "operator"),
      traits_(std::move(traits)) {}

double SimulatedOperator::now_s() const { return base::to_seconds(timeline_.now()); }

void SimulatedOperator::note(DeedKind kind, std::string what, double clockwise_deg) {
  done_.push_back({now_s(), kind, std::move(what), clockwise_deg});
}

task<> SimulatedOperator::take(Span careful, Span hasty) {
  const Span& span = traits_.careful ? careful : hasty;
  co_await timeline_.sleep(base::from_seconds(chance_.log_normal_5_95(span.p5, span.p95)));
}

task<std::string> SimulatedOperator::told(const bench::Question& question) {
  for (const std::string& known_by : {question.name, question.text})
    if (const auto it = traits_.answers.find(known_by); it != traits_.answers.end()) co_return it->second;
  if (question.kind == bench::AnswerKind::yes_or_no && question.text.find("heard") != std::string::npos)
    co_return co_await is_heard() ? "yes" : "no";
  if (auto found = found_by_looking(question, player_, box_, now_s())) co_return std::move(*found);
  co_return usual_answer(question);
}

std::string SimulatedOperator::usual_answer(const bench::Question& question) {
  switch (question.kind) {
    case bench::AnswerKind::done: return "done";
    case bench::AnswerKind::yes_or_no: return "yes";
    case bench::AnswerKind::one_of: return question.choices.front();
    case bench::AnswerKind::value: {
      const quantity::Span& of = *question.allowed;
      const double si = of.low && of.high ? (*of.low + *of.high) / 2 : of.low ? *of.low : *of.high;
      return quantity::print({si, of.dimension}, 6);
    }
    case bench::AnswerKind::code: return "CODE-0001";
    case bench::AnswerKind::text:
    case bench::AnswerKind::file: break;
  }
  return "nothing to remark";
}

// Listens until the player plays, as long as a patient person would.
task<bool> SimulatedOperator::is_heard() {
  const double until_s = now_s() + longest_listening_s;
  while (now_s() < until_s) {
    if (player_.state_at(now_s()) == PlayerState::playing) co_return true;
    co_await timeline_.sleep(base::from_seconds(1));
  }
  co_return false;
}

task<bench::Answer> SimulatedOperator::ask(const bench::Question& question) {
  const std::string& text = question.text;
  if (chance_.chance(traits_.mistakes.absent))
    co_await timeline_.sleep(base::from_seconds(-mean_absence_s * std::log1p(-chance_.uniform())));
  co_await take({2, 6}, {0.5, 3});
  player_.look(now_s());
  bench::Answer answer{co_await told(question), traits_.name};
  if (question.kind == bench::AnswerKind::file) {
    answer.text = "enclosure.txt";
    answer.content = std::make_shared<const std::string>("a simulated enclosure: " + text + "\n");
  }
  if (chance_.chance(traits_.mistakes.untrue_done)) co_return answer;
  const std::vector<Deed> deeds = bench::deeds_asked_for(text);
  wanted_off_ = std::any_of(deeds.begin(), deeds.end(), [](const Deed& d) { return d.kind == DeedKind::switch_off; });
  if (deeds.empty()) note(DeedKind::look, text);
  for (const Deed& deed : deeds) {
    if (chance_.chance(traits_.mistakes.step_forgotten)) continue;
    std::string trouble = co_await perform(deed);
    if (trouble.empty() || question.kind != bench::AnswerKind::done) continue;
    answer.text = std::move(trouble);
    co_return answer;
  }
  co_return answer;
}

task<std::string> SimulatedOperator::perform(const Deed& deed) {
  switch (deed.kind) {
    case DeedKind::insert_disc: co_return co_await insert(deed);
    case DeedKind::start_track: co_return co_await start(deed);
    case DeedKind::remove_disc: co_await remove(deed); co_return std::string();
    case DeedKind::switch_on: co_await switch_to(true); co_return std::string();
    case DeedKind::switch_off: co_await switch_to(false); co_return std::string();
    case DeedKind::turn_trimmer: co_await turn(deed); co_return std::string();
    case DeedKind::move_lead: co_return co_await move_lead(deed);
    case DeedKind::repeat_disc:
    case DeedKind::pause:
    case DeedKind::resume:
    case DeedKind::stop:
      co_await take({1, 3}, {0.5, 2});
      if (deed.kind == DeedKind::repeat_disc) player_.repeat_disc();
      if (deed.kind == DeedKind::pause && !player_.pause(now_s())) co_return std::string("it does not play");
      if (deed.kind == DeedKind::resume && !player_.resume(now_s())) co_return std::string("it is not paused");
      if (deed.kind == DeedKind::stop) player_.stop(now_s());
      break;
    case DeedKind::look: break;
  }
  note(deed.kind, deed.what);
  co_return std::string();
}

// The disc whose identity the words hold, else the first of the kind they name; a disc without a kind is a pressed one.
std::shared_ptr<const Disc> SimulatedOperator::choose(const std::string& words) const {
  for (const auto& disc : box_)
    if (!disc->identity.empty() && words.find(lower(disc->identity)) != std::string::npos) return disc;
  DiscKind kind = DiscKind::pressed;
  for (const DiscKind named : {DiscKind::recordable, DiscKind::rewritable})
    if (words.find(name_of(named)) != std::string::npos) kind = named;
  const auto found = std::find_if(box_.begin(), box_.end(), [&](const auto& disc) { return disc->kind == kind; });
  return found == box_.end() ? nullptr : *found;
}

task<std::string> SimulatedOperator::insert(const Deed& deed) {
  auto disc = choose(deed.what);
  if (!disc) co_return "no such disc in the box: " + deed.what;
  if (box_.size() > 1 && chance_.chance(traits_.mistakes.wrong_disc)) {
    const auto right = std::find(box_.begin(), box_.end(), disc) - box_.begin();
    const auto other = static_cast<std::size_t>(right) + 1 + static_cast<std::size_t>(chance_.below(box_.size() - 1));
    disc = box_[other % box_.size()];
  }
  if (player_.disc() == disc.get()) co_return std::string();
  co_await take({8, 20}, {5, 12});
  player_.insert(disc, now_s());
  note(DeedKind::insert_disc, disc->identity);
  co_return std::string();
}

// Leaves the player on without a disc and waits until it has given up looking for one.
task<> SimulatedOperator::remove(const Deed& deed) {
  if (player_.disc() != nullptr) {
    co_await take({4, 10}, {2.5, 6});
    player_.remove_disc(now_s());
    note(DeedKind::remove_disc, deed.what);
  }
  if (!player_.is_on() && !wanted_off_) co_await switch_to(true);
  co_await timeline_.sleep(base::from_seconds(std::max(0.0, player_.schedule().last_s() - now_s()) + glance_s));
}

task<std::string> SimulatedOperator::start(const Deed& deed) {
  if (traits_.mistakes.start_forgotten > 0 && chance_.chance(traits_.mistakes.start_forgotten)) co_return std::string();
  if (!player_.is_on()) co_await switch_to(true);
  co_await take({1, 3}, {0.5, 2});
  if (!player_.start_track(deed.track, now_s())) {
    const std::string why = player_.disc() == nullptr ? "there is no disc in the player"
                                                      : "the disc has no track " + std::to_string(deed.track);
    co_return why;
  }
  note(DeedKind::start_track, std::to_string(deed.track));
  // Who sees that the disc was not recognised tries again.
  for (int tries = 1; tries < starts_tried && !player_.ready_s(); ++tries) {
    co_await timeline_.sleep(base::from_seconds(std::max(0.0, player_.schedule().last_s() - now_s())));
    co_await take({2, 6}, {1, 3});
    player_.start_track(deed.track, now_s());
    note(DeedKind::start_track, std::to_string(deed.track));
  }
  if (!player_.ready_s()) co_return std::string("the player does not recognise the disc");
  if (traits_.mistakes.paused > 0 && chance_.chance(traits_.mistakes.paused)) co_await pause_what_plays();
  co_return std::string();
}

task<> SimulatedOperator::pause_what_plays() {
  while (player_.state_at(now_s()) != PlayerState::playing && now_s() < player_.schedule().last_s())
    co_await timeline_.sleep(base::from_seconds(glance_s));
  if (player_.pause(now_s())) note(DeedKind::pause, {});
}

task<> SimulatedOperator::switch_to(bool on) {
  if (player_.is_on() == on) co_return;
  co_await take({3, 8}, {1.5, 4});
  if (on)
    player_.switch_on(now_s());
  else
    player_.switch_off(now_s());
  note(on ? DeedKind::switch_on : DeedKind::switch_off, {});
}

task<std::string> SimulatedOperator::move_lead(const Deed& deed) {
  co_await take({5, 15}, {3, 8});
  const auto lead = leads_.find(deed.lead);
  if (lead == leads_.end()) co_return "there is no lead of the " + deed.lead + " here";
  if (!lead->second->move(deed.place, now_s())) co_return "there is no " + deed.place + " here";
  note(DeedKind::move_lead, deed.what);
  co_return std::string();
}

// The trimmer is turned with the player off unless the prompt wants it live; afterwards the player is as it was before.
task<> SimulatedOperator::turn(const Deed& deed) {
  const bool was_on = player_.is_on();
  const auto track = player_.track_at(now_s());
  if (was_on && !deed.live) co_await switch_to(false);
  co_await take({12, 40}, {6, 20});
  double asked_deg = deed.clockwise_deg;
  if (chance_.chance(traits_.mistakes.wrong_direction)) asked_deg = -asked_deg;
  const double size_deg = std::abs(asked_deg);
  const double error_deg = chance_.normal(0, turn_error_deg + turn_error_share * size_deg);
  const double turned_deg = std::copysign(std::max(smallest_turn_deg, size_deg + error_deg), asked_deg);
  const bool right_one = !(traits_.mistakes.wrong_trimmer > 0 && chance_.chance(traits_.mistakes.wrong_trimmer));
  if (right_one) player_.turn_trimmer_clockwise(turned_deg, now_s());
  note(DeedKind::turn_trimmer, deed.what, turned_deg);
  if (!was_on || player_.is_on()) co_return;
  co_await switch_to(true);
  if (!track) co_return;
  co_await take({1, 3}, {0.5, 2});
  player_.start_track(*track, now_s());
}

}  // namespace eyelevel::sim
