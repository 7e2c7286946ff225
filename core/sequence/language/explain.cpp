// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/language/explain.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace eyelevel::sequence {

namespace {

std::string minutes(double seconds) {
  const auto whole = static_cast<long long>(std::ceil(seconds - 1e-6));  // a bound comes from nanoseconds
  const long long hours = whole / 3600, min = whole / 60 % 60, s = whole % 60;
  std::string text;
  const auto add = [&](long long n, std::string_view unit) {
    if (n > 0) text += fmt::format("{}{} {}", text.empty() ? "" : " ", n, unit);
  };
  add(hours, "h");
  add(min, "min");
  if (hours == 0) add(s, "s");
  return text.empty() ? "0 s" : text;
}

// The verb's sentence with what the step says, and behind it what it says under other keys.
std::string own_sentence(const Step& step, const Language& language) {
  const auto* verb = language.verbs.find(step.place.verb);
  const std::string pattern = verb ? verb->declaration.sentence : "";
  if (pattern.empty()) return step.place.text;
  const std::map<std::string, std::string> values(step.said.begin(), step.said.end());
  std::string text;
  for (std::size_t at = 0; at < pattern.size();) {
    const std::size_t open = std::min(pattern.find('<', at), pattern.size());
    text += pattern.substr(at, open - at);
    const std::size_t close = pattern.find('>', open);
    if (close == std::string::npos) break;
    const auto value = values.find(pattern.substr(open + 1, close - open - 1));
    if (value != values.end()) text += value->second;
    at = close + 1;
  }
  for (const auto& [key, value] : step.said)
    if (pattern.find('<' + key + '>') == std::string::npos && !value.empty() && key != step.place.verb)
      text += fmt::format("{} {} {}", text.ends_with('?') ? "" : ",", key, value);
  return text;
}

// What the keys say that all steps have.
std::string common_sentence(const Step& step) {
  std::string text;
  if (!step.called.empty()) text += fmt::format("; call it {}", step.called);
  if (step.must_meet) text += fmt::format("; it must be {} ({})", step.must_meet->text, step.must_meet->name);
  if (step.within) text += fmt::format("; at most {}", minutes(base::to_seconds(*step.within)));
  if (step.again.times > 0)
    text += fmt::format(
        "; try again up to {} time{}{}", step.again.times, step.again.times == 1 ? "" : "s",
        step.again.after > base::Duration() ? ", " + minutes(base::to_seconds(step.again.after)) + " later" : "");
  return text;
}

class Explainer {
 public:
  Explainer(const Language& language, Explanation& out) : language_(language), out_(out) {}

  Duration list(const std::vector<Step>& steps, int depth, std::vector<Sentence>& into) {
    Duration sum;
    int number = 0;
    for (const Step& step : steps) {
      const Duration one = this->one(step, depth, depth == 0 ? std::to_string(++number) : "", into);
      sum.likely_s += one.likely_s;
      sum.longest_s += one.longest_s;
    }
    return sum;
  }

 private:
  Duration one(const Step& step, int depth, std::string number, std::vector<Sentence>& into) {
    const bool was_lit = is_lit_;
    std::string text = own_sentence(step, language_) + common_sentence(step);
    if (!step.only_with.empty()) text = fmt::format("If {} is there: {}", step.only_with, text);
    text += step.inside.empty() ? "." : ":";
    into.push_back({depth, std::move(number), std::move(text), step.place});
    Duration took = step.flow == Flow::none ? leaf(step) : around(step, depth, into);
    const auto again = static_cast<double>(step.again.times);
    took.longest_s += again * (took.longest_s + base::to_seconds(step.again.after));
    if (step.flow == Flow::none && was_lit) {
      out_.laser_lit.likely_s += took.likely_s;
      out_.laser_lit.longest_s += took.longest_s;
    }
    if (step.flow != Flow::decide && step.has_otherwise) took.longest_s += otherwise(step, depth, into).longest_s;
    return took;
  }

  Duration leaf(const Step& step) {
    const double likely_s = step.action->likely_s();
    if (const bench::Question* question = step.action->asks(); question) out_.asked.push_back(*question);
    if (const auto lit = step.action->leaves_laser_lit()) is_lit_ = *lit;
    const double longest_s = step.within ? base::to_seconds(*step.within) : likely_s;
    return {std::min(likely_s, longest_s), longest_s};
  }

  Duration around(const Step& step, int depth, std::vector<Sentence>& into) {
    Duration took;
    if (step.flow == Flow::decide) {
      const Duration then = list(step.inside, depth + 1, into);
      const Duration other = step.has_otherwise ? otherwise(step, depth, into) : Duration{};
      return {std::max(then.likely_s, other.likely_s), std::max(then.longest_s, other.longest_s)};
    }
    if (step.flow == Flow::repeat) {
      took = rounds(step, depth, into);
    } else if (step.flow == Flow::together) {
      for (const Step& inside : step.inside) {
        const Duration branch = one(inside, depth + 1, "", into);
        took = {std::max(took.likely_s, branch.likely_s), std::max(took.longest_s, branch.longest_s)};
      }
    } else {
      took = list(step.inside, depth + 1, into);
    }
    if (step.within) took.longest_s = std::min(took.longest_s, base::to_seconds(*step.within));
    took.likely_s = std::min(took.likely_s, took.longest_s);
    return took;
  }

  // With `until`, half of its rounds are taken for likely.
  Duration rounds(const Step& step, int depth, std::vector<Sentence>& into) {
    const Duration lit = out_.laser_lit;
    const Duration one = list(step.inside, depth + 1, into);
    const auto most = static_cast<double>(step.rounds.times);
    const double likely = step.action ? std::ceil(most / 2) : most;
    const double pause_s = base::to_seconds(step.rounds.pause);
    Duration all{likely * one.likely_s + (likely - 1) * pause_s, most * one.longest_s + (most - 1) * pause_s};
    if (step.rounds.every) {
      // A round that takes longer than its time pushes others out, so that only the last one can hang over.
      const double whole_s = (most - 1) * base::to_seconds(*step.rounds.every);
      all = {whole_s + one.likely_s, whole_s + one.longest_s};
    }
    lit_in_rounds(lit, one, all);
    return all;
  }

  // The laser is lit in further rounds as it is in the first one.
  void lit_in_rounds(const Duration& before, const Duration& one, const Duration& all) {
    const auto stretch = [](double from, double to, double one_s, double all_s) {
      return one_s > 0 ? from + (to - from) / one_s * all_s : to;
    };
    out_.laser_lit = {stretch(before.likely_s, out_.laser_lit.likely_s, one.likely_s, all.likely_s),
                      stretch(before.longest_s, out_.laser_lit.longest_s, one.longest_s, all.longest_s)};
  }

  Duration otherwise(const Step& step, int depth, std::vector<Sentence>& into) {
    const bool is_missed = step.must_meet || std::any_of(step.said.begin(), step.said.end(),
                                                         [](const auto& said) { return said.first == "must meet"; });
    into.push_back({depth, "",
                    step.flow == Flow::decide ? "Otherwise:"
                    : is_missed               ? "If it does not come about or does not meet its limit:"
                                              : "If it does not come about:",
                    step.place});
    return list(step.otherwise, depth + 1, into);
  }

  const Language& language_;
  Explanation& out_;
  bool is_lit_ = false;
};

}  // namespace

Explanation explain(const Sequence& sequence, const Language& language) {
  Explanation out;
  Explainer explainer(language, out);
  for (const auto& [steps, into] :
       {std::pair{&sequence.opening, &out.opening}, {&sequence.steps, &out.steps}, {&sequence.closing, &out.closing}}) {
    const Duration took = explainer.list(*steps, 0, *into);
    out.whole.likely_s += took.likely_s;
    out.whole.longest_s += took.longest_s;
  }
  return out;
}

std::string in_words(const Duration& duration) {
  return fmt::format("about {}, at most {}", minutes(duration.likely_s), minutes(duration.longest_s));
}

}  // namespace eyelevel::sequence
