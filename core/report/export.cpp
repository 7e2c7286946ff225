// SPDX-License-Identifier: Apache-2.0
#include "core/report/export.hpp"

#include <boost/json/array.hpp>
#include <boost/json/object.hpp>

#include <fmt/format.h>

#include <cerrno>
#include <cmath>
#include <fstream>
#include <system_error>

#include "core/base/error.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/report/run_json.hpp"
#include "core/signal/csv.hpp"
#include "core/signal/npy.hpp"

namespace eyelevel::report {
namespace json = boost::json;
namespace fs = std::filesystem;
using base::Error;
using base::ErrorCode;

namespace {

std::string csv_text(std::string_view text) {
  if (text.find_first_of(",\"\r\n") == std::string_view::npos) return std::string(text);
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

std::string csv_number(const std::optional<double>& d) { return d && std::isfinite(*d) ? fmt::format("{}", *d) : ""; }

// Names come from a sequence; in a file's name only plain letters are safe everywhere.
std::string plain(std::string_view name) {
  std::string out(name);
  for (char& c : out) {
    const bool good = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-';
    if (!good) c = '_';
  }
  return out;
}

json::object sidecar(const record::RunRecord& run, const record::CaptureInfo& capture, const signal::Waveform& w) {
  json::object beside{{"rate_hz", w.rate_hz}, {"scale_v", w.scale_v}, {"offset_v", w.offset_v}, {"screen", nullptr}};
  if (w.screen) beside["screen"] = json::object{{"low_v", w.screen->low_v}, {"high_v", w.screen->high_v}};
  beside["start_s"] = w.start_s;
  beside["run"] = run.summary.id;
  beside["capture"] = record::clean_utf8(capture.name);
  beside["signal"] = record::clean_utf8(capture.signal);
  beside["index"] = capture.index;
  beside["not_kept"] = record::clean_utf8(capture.not_kept);
  return beside;
}

class Exporter {
 public:
  Exporter(record::Store& store, const record::RunRecord& run, const fs::path& folder)
      : store_(store), run_(run), folder_(folder) {}

  void write(const std::string& tail, std::string_view bytes) {
    const fs::path path = folder_ / (plain(run_.summary.id) + tail);
    write_file(path, bytes);
    written.push_back(path);
  }

  void write_capture(const record::CaptureInfo& capture, const ExportWish& wish) {
    std::shared_ptr<const signal::Waveform> waveform;
    try {
      waveform = store_.capture(run_.summary.id, capture.event_number);
    } catch (const Error& error) {
      if (error.record().code != ErrorCode::not_found) throw;
      return;  // not every capture leaves samples: a rehearsal may drop them, a failed one has none
    }
    const std::string stem = fmt::format("-{}-{:03}", plain(capture.name), capture.index);
    if (wish.captures_npy) {
      const auto bytes = signal::write_npy(waveform->view());
      write(stem + ".npy", {reinterpret_cast<const char*>(bytes.data()), bytes.size()});
      write(stem + ".json", record::text_of(sidecar(run_, capture, *waveform), record::Layout::indented) + "\n");
    }
    if (wish.captures_csv) write(stem + ".csv", signal::write_csv(waveform->view()));
  }

  // Under the name that the sequence has for it, with the ending that its file had.
  void write_enclosure(const record::EnclosureInfo& enclosure) {
    const std::string ending = fs::path(enclosure.file_name).extension().string();
    const bool is_plain = ending.size() > 1 && ending.size() <= 8 && plain(ending.substr(1)) == ending.substr(1);
    write(fmt::format("-{}-{}{}", plain(enclosure.name.empty() ? "enclosure" : enclosure.name), enclosure.event_number,
                      is_plain ? ending : ".bin"),
          *store_.enclosure(run_.summary.id, enclosure.event_number));
  }

  std::vector<fs::path> written;

 private:
  record::Store& store_;
  const record::RunRecord& run_;
  fs::path folder_;
};

}  // namespace

std::string readings_csv(const record::RunRecord& run) {
  std::string out =
      "run,serial,model,name,value,unit,standard_uncertainty,expanded_uncertainty,coverage_probability,count,tried,"
      "at_least,at_most,judgement\r\n";
  for (const auto& r : run.readings) {
    const metrology::Limit limit = r.limit.value_or(metrology::Limit{});
    out += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n", csv_text(run.summary.id),
                       csv_text(run.summary.serial), csv_text(run.summary.model), csv_text(r.name), csv_number(r.value),
                       csv_text(r.unit), csv_number(r.interval.standard_uncertainty),
                       csv_number(r.interval.expanded_uncertainty), csv_number(r.interval.coverage_probability),
                       r.count, r.tried ? std::to_string(*r.tried) : "", csv_number(limit.at_least),
                       csv_number(limit.at_most), r.judgement ? record::name_of(*r.judgement) : "");
  }
  return out;
}

std::string whole_run_json(record::Store& store, const record::RunRecord& run) {
  json::array events;
  for (const event::Event& event : store.events(run.summary.id, record::Samples::none))
    events.push_back(record::to_json(event));
  const json::object whole{{"format", "eyelevel run"},
                           {"version", 1},
                           {"about", summary_json(run.summary)},
                           {"unit", unit_json(run)},
                           {"events", std::move(events)}};
  return record::text_of(whole, record::Layout::indented) + "\n";
}

std::vector<fs::path> export_run(record::Store& store, const record::RunRecord& run, const fs::path& folder,
                                 const ExportWish& wish) {
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) {
    throw Error(ErrorCode::bad_input,
                fmt::format("export: the folder {} cannot be made: {}", folder.string(), error.message()),
                "name a folder that you may write to");
  }
  Exporter exporter(store, run, folder);
  if (wish.readings_csv) exporter.write("-readings.csv", readings_csv(run));
  if (wish.json) exporter.write(".json", whole_run_json(store, run));
  for (const auto& enclosure : run.enclosures) exporter.write_enclosure(enclosure);
  if (wish.captures_npy || wish.captures_csv) {
    for (const auto& capture : run.captures) exporter.write_capture(capture, wish);
  }
  return std::move(exporter.written);
}

void write_file(const fs::path& path, std::string_view bytes) {
  errno = 0;
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  out.close();
  if (!out) {
    const std::string why = errno != 0 ? std::generic_category().message(errno) : "writing failed";
    throw Error(ErrorCode::bad_input, fmt::format("{} cannot be written: {}", path.string(), why),
                "is the disk full, and may you write there?");
  }
}

}  // namespace eyelevel::report
