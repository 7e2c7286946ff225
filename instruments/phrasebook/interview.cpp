// SPDX-License-Identifier: Apache-2.0
#include "instruments/phrasebook/interview.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <map>
#include <optional>
#include <utility>

#include "core/base/error.hpp"
#include "core/yaml/load.hpp"
#include "instruments/scpi/error_queue.hpp"
#include "instruments/scpi/message/program_builder.hpp"
#include "instruments/scpi/message/response_reader.hpp"

namespace eyelevel::phrasebook {
namespace {

enum class Answer { number, boolean, word, string };

// Settings: asking for them has no effect (SCPI-99 Vol. 1, 6.1: the query form of a setting returns it).
struct Harmless {
  std::string_view key;
  Answer answer;
};
constexpr std::array harmless = {
    Harmless{"probe factor", Answer::number},
    Harmless{"coupling", Answer::word},
    Harmless{"range", Answer::number},
    Harmless{"offset", Answer::number},
    Harmless{"bandwidth limit", Answer::boolean},
    Harmless{"bandwidth", Answer::number},
    Harmless{"measured signal", Answer::string},
    Harmless{"points", Answer::number},
    Harmless{"interval", Answer::number},
    Harmless{"trigger source", Answer::word},
    Harmless{"trigger level", Answer::number},
    Harmless{"trigger slope", Answer::word},
    Harmless{"data format", Answer::word},
    Harmless{"byte order", Answer::word},
    Harmless{"measured quantity", Answer::string},
    Harmless{"aperture", Answer::number},
    Harmless{"voltage", Answer::number},
    Harmless{"current limit", Answer::number},
    Harmless{"protection", Answer::number},
    Harmless{"tripped", Answer::boolean},
    Harmless{"output", Answer::boolean},
    Harmless{"shape", Answer::word},
    Harmless{"frequency", Answer::number},
    Harmless{"amplitude", Answer::number},
    Harmless{"amplitude unit", Answer::word},
    Harmless{"level", Answer::number},
    Harmless{"gate", Answer::number},
};

bool is_header(std::string_view phrase) {
  return phrase.starts_with('*') || phrase.find(':') != std::string_view::npos;
}

constexpr std::size_t most_answer_bytes = std::size_t{64} << 10U;  // no setting is longer
constexpr std::size_t most_errors = 64;                            // more than any queue holds
constexpr std::size_t most_silent = 4;  // queries in a row without an answer: this way leads nowhere

std::string_view expected(Answer kind) {
  switch (kind) {
    case Answer::number: return "a number";
    case Answer::boolean: return "0 or 1";
    case Answer::word: return "a word";
    case Answer::string: return "a text in quotes";
  }
  return {};
}

constexpr std::string_view header_key = "waveform header";
// What a header of the right form proves, beside itself.
bool is_part_of_header(std::string_view key) { return key == "header fields" || key.starts_with("field of "); }

bool is_answer(Answer kind, std::string_view text) {
  try {
    scpi::ResponseReader reader(text);
    switch (kind) {
      case Answer::number:
        if (!std::isfinite(reader.number())) return false;
        break;
      case Answer::boolean: reader.boolean(); break;
      case Answer::word: reader.character(); break;
      case Answer::string: reader.string(); break;
    }
    // A data format has its length behind it.
    if (kind == Answer::word && !reader.at_end()) reader.number();
    reader.end();
  } catch (const base::Error&) {
    return false;
  }
  return true;
}

class Interviewer {
 public:
  Interviewer(transport::Session& session, base::Duration each) : session_(session), each_(each) {}

  // Empty when nothing came in time; a lost connection is thrown.
  task<std::optional<std::string>> answer_to(std::string query) {
    std::optional<std::string> answer;
    try {
      answer = co_await session_.query(query, each_, most_answer_bytes);
    } catch (const base::Error& error) {
      const auto code = error.record().code;
      if (code != base::ErrorCode::time_out && code != base::ErrorCode::bad_answer) throw;
      if (code == base::ErrorCode::bad_answer) answer = error.record().received;
    }
    co_return answer;
  }

  // Everything that stands in the queue; empty when there is no such queue.
  task<std::optional<std::vector<std::string>>> errors() {
    std::vector<std::string> found;
    while (found.size() < most_errors) {
      const auto answer = co_await answer_to("SYSTem:ERRor?");
      const auto error = answer ? read_error(*answer) : std::nullopt;
      if (!error) co_return std::nullopt;
      if (error->number == 0) break;
      found.push_back(fmt::format("{} {}", error->number, base::legible(error->text)));
    }
    co_return found;
  }

  // `why_not` says why an answer does not fit the line, or nothing.
  task<> ask(Asked& line, bool has_queue, std::function<std::string(const std::string&)> why_not) {
    scpi::ProgramBuilder query;
    static constexpr int first = 1;
    const bool has_place = line.phrase.find('<') != std::string::npos;
    query.query(line.phrase, std::span<const int>(&first, has_place ? 1 : 0));
    line.query = query.text();
    if (line.query.starts_with(':')) line.query.erase(0, 1);  // the root, where every message begins
    const auto answer = co_await answer_to(line.query);
    silent_ = answer ? 0 : silent_ + 1;
    std::vector<std::string> errors_behind;
    if (has_queue) errors_behind = (co_await errors()).value_or(std::vector<std::string>{});
    if (answer) line.answer = *answer;
    if (!errors_behind.empty()) {
      line.trouble = fmt::format("error {}", fmt::join(errors_behind, "; "));
    } else if (!answer) {
      line.trouble = "no answer";
    } else {
      line.trouble = why_not(*answer);
    }
  }

  bool is_speechless() const { return silent_ >= most_silent; }
  void begin_way() { silent_ = 0; }

 private:
  static std::optional<scpi::QueuedError> read_error(const std::string& text) {
    try {
      return scpi::parse_queued_error(text);
    } catch (const base::Error&) {
      return std::nullopt;
    }
  }

  transport::Session& session_;
  base::Duration each_;
  std::size_t silent_ = 0;
};

// A file of standard/, whose mistakes were looked for when the program was built.
Tried way_of(const detail::StandardText& text) {
  Tried way;
  const yaml::Document document = yaml::load_text(std::string(text.file), text.text);
  for (const yaml::Entry& entry : document.root.entries) {
    if (entry.key == "phrasebook") way.phrasebook = entry.value.text;
    if (entry.key == "kind") way.kind = entry.value.text;
    if (entry.value.shape != yaml::Shape::text || entry.key == "phrasebook" || entry.key == "kind" ||
        entry.key == "about")
      continue;
    way.lines.push_back({entry.key, entry.value.text, {}, {}, {}});
  }
  yaml::Mistakes none{std::string(text.file)};
  way.layout = read_layout(document.root, none);
  return way;
}

std::string why_no_header(const std::string& answer, const WaveformLayout& layout) {
  try {
    scale_from(answer, layout);
    return {};
  } catch (const base::Error& error) {
    return error.record().message;
  }
}

// Two ways may differ in nothing but the form of the header, which is asked for like a setting. An instrument that
// never took a record has none, and is not made to take one.
task<> try_header(Interviewer& interviewer, Tried& way, bool has_queue) {
  const auto line =
      std::find_if(way.lines.begin(), way.lines.end(), [](const Asked& asked) { return asked.key == header_key; });
  if (line == way.lines.end() || !is_header(line->phrase) || interviewer.is_speechless()) co_return;
  co_await interviewer.ask(*line, has_queue,
                           [&layout = way.layout](const std::string& answer) { return why_no_header(answer, layout); });
  if (line->answer.empty() && !line->fits())
    line->trouble += "; has it taken a record? let it run once by its own key and interview it again";
}

task<> try_way(Interviewer& interviewer, Tried& way, bool has_queue) {
  interviewer.begin_way();
  for (Asked& line : way.lines) {
    const auto known =
        std::find_if(harmless.begin(), harmless.end(), [&](const Harmless& h) { return h.key == line.key; });
    // The same key is a word in another kind of phrasebook ("frequency").
    if (known == harmless.end() || !is_header(line.phrase) || interviewer.is_speechless()) continue;
    co_await interviewer.ask(line, has_queue, [kind = known->answer](const std::string& answer) {
      return is_answer(kind, answer) ? std::string() : fmt::format("is not {}", expected(kind));
    });
  }
  co_await try_header(interviewer, way, has_queue);
}

std::string in_quotes(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + '"';
}

// A value that YAML would not read as it stands needs quotes.
std::string value_of(const std::string& phrase) {
  const bool needs =
      phrase.starts_with('*') || phrase.starts_with('[') || phrase.find_first_of("#\"'") != std::string::npos;
  return needs ? in_quotes(phrase) : phrase;
}

// For a line of a phrasebook, where a tab is a mistake.
std::string without_tabs(std::string text) {
  for (std::size_t at = 0; (at = text.find('\t', at)) != std::string::npos;) text.replace(at, 1, "\\t");
  return text;
}

std::string short_of(std::string_view answer) {
  constexpr std::size_t most = 60;
  return without_tabs(base::legible(answer.substr(0, most))) + (answer.size() > most ? "..." : "");
}

// A word of the phrasebook may have come as the answer to a setting; text comes in quotes.
const Asked* seen_in(const std::vector<Asked>& lines, const std::string& word) {
  const auto at = std::find_if(lines.begin(), lines.end(), [&](const Asked& line) {
    std::string_view answer = line.answer;
    if (answer.size() > 1 && answer.front() == '"') answer = answer.substr(1, answer.size() - 2);
    return line.fits() && means(answer.substr(0, answer.find(',')), word);
  });
  return at == lines.end() ? nullptr : &*at;
}

std::string how(const Asked& line, const std::vector<Asked>& lines) {
  if (line.fits()) return fmt::format("asked {}, answered {}", line.query, short_of(line.answer));
  if (!line.query.empty())
    return fmt::format("asked {}: {}{}; look it up in the handbook", line.query, without_tabs(line.trouble),
                       line.answer.empty() ? "" : " (answered " + short_of(line.answer) + ")");
  if (is_part_of_header(line.key)) {
    const auto header =
        std::find_if(lines.begin(), lines.end(), [](const Asked& one) { return one.key == header_key; });
    if (header != lines.end() && header->fits()) return fmt::format("its answer to {} can be read so", header->query);
  }
  const Asked* seen = seen_in(lines, line.phrase);
  return seen == nullptr ? "not asked; unproven" : fmt::format("it answered so to {}", seen->query);
}

}  // namespace

std::size_t Tried::asked() const {
  return static_cast<std::size_t>(
      std::count_if(lines.begin(), lines.end(), [](const Asked& a) { return !a.query.empty(); }));
}

std::size_t Tried::fitting() const {
  return static_cast<std::size_t>(std::count_if(lines.begin(), lines.end(), [](const Asked& a) { return a.fits(); }));
}

std::vector<Asked> Interview::learnt() const {
  if (tried.empty()) return {};
  std::vector<Asked> lines = tried.front().lines;
  for (Asked& line : lines) {
    // A header goes with the keys that say how it is read.
    if (line.query.empty() || line.fits() || line.key == header_key) continue;
    for (const Tried& other : tried) {
      if (other.kind != tried.front().kind) continue;
      const auto better = std::find_if(other.lines.begin(), other.lines.end(),
                                       [&](const Asked& a) { return a.key == line.key && a.fits(); });
      if (better == other.lines.end()) continue;
      line = *better;
      break;
    }
  }
  return lines;
}

task<Interview> interview(transport::Session& session, const std::vector<detail::StandardText>& ways,
                          base::Duration each) {
  Interviewer interviewer(session, each);
  Interview found;
  found.resource = session.resource_name();
  const auto identity = co_await interviewer.answer_to("*IDN?");
  if (!identity || identity->empty()) {
    base::ErrorRecord record;
    record.code = base::ErrorCode::bad_answer;
    record.where = found.resource;
    record.message = "there is no answer to *IDN?, so nothing more is asked";
    record.sent = "*IDN?";
    record.expected = "maker, model, serial number and firmware, separated by commas (IEEE 488.2, 10.14)";
    record.advice = "is it switched on, and does this connection take commands? some need it to be allowed in a menu";
    throw base::Error(std::move(record));
  }
  found.identity = *identity;
  if (auto errors = co_await interviewer.errors()) {
    found.has_error_queue = true;
    found.found_in_queue = std::move(*errors);
  }
  found.version = (co_await interviewer.answer_to("SYSTem:VERSion?")).value_or("");
  found.capability = (co_await interviewer.answer_to("SYSTem:CAPability?")).value_or("");
  if (found.has_error_queue) co_await interviewer.errors();  // of those two
  for (const detail::StandardText& text : ways) {
    found.tried.push_back(way_of(text));
    co_await try_way(interviewer, found.tried.back(), found.has_error_queue);
  }
  // The share that fits, then how much fits.
  std::sort(found.tried.begin(), found.tried.end(), [](const Tried& a, const Tried& b) {
    const std::size_t left = a.fitting() * std::max<std::size_t>(1, b.asked()),
                      right = b.fitting() * std::max<std::size_t>(1, a.asked());
    if (left != right) return left > right;
    return a.fitting() != b.fitting() ? a.fitting() > b.fitting() : a.phrasebook < b.phrasebook;
  });
  co_return found;
}

std::string written(const Interview& interview, std::string_view name) {
  const std::vector<Asked> lines = interview.learnt();
  std::string text = fmt::format(
      "# Learnt by asking {}\n# which calls itself {}\n# Only settings were asked for. Unproven: hold every line "
      "against the "
      "handbook before you trust a reading.\nphrasebook: {}\nabout: {}\nkind: {}\n\n",
      interview.resource, short_of(interview.identity), name, in_quotes("Learnt from " + short_of(interview.identity)),
      interview.tried.empty() ? "oscilloscope" : interview.tried.front().kind);
  std::size_t widest = 0;
  for (const Asked& line : lines) widest = std::max(widest, line.key.size() + value_of(line.phrase).size());
  for (const Asked& line : lines)
    text += fmt::format("{:<{}}  # {}\n", line.key + ": " + value_of(line.phrase), widest + 2, how(line, lines));
  return text;
}

}  // namespace eyelevel::phrasebook
