// SPDX-License-Identifier: Apache-2.0
#include "core/program/state_backup.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <boost/crc.hpp>
#include <boost/json.hpp>
#include <fstream>
#include <iterator>
#include <system_error>

#include "core/base/error.hpp"
#include "core/record/archive/sync.hpp"
#include "core/record/journal/event_json.hpp"
#include "core/record/journal/json_text.hpp"
#include "core/record/store/sqlite_backup.hpp"

namespace eyelevel::program {

namespace fs = std::filesystem;
namespace json = boost::json;
using base::Error;
using base::ErrorCode;

namespace {

constexpr std::array databases{"records.db", "access.db", "spool.db"};
constexpr std::array others{"owner", "tls.pem"};
constexpr const char* list_name = "backup.json";
constexpr const char* format_name = "eyelevel backup";

bool is_database(const std::string& name) { return name.ends_with(".db"); }

Error wrong(const fs::path& path, const std::string& what, const std::string& advice) {
  return {ErrorCode::bad_input, path.string() + ": " + what, advice};
}

void require_room(const fs::path& folder) {
  if (fs::exists(folder) && !(fs::is_directory(folder) && fs::is_empty(folder)))
    throw wrong(folder, "it is not empty; nothing was written", "name a new folder, or an empty one");
}

std::string checksum_of_file(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  boost::crc_32_type crc;
  std::array<char, 1 << 16> block{};
  while (in.read(block.data(), block.size()) || in.gcount() > 0)
    crc.process_bytes(block.data(), static_cast<std::size_t>(in.gcount()));
  if (in.bad()) throw wrong(path, "it cannot be read", "check the disk and its cable");
  return fmt::format("{:08x}", crc.checksum());
}

void copy_plain(const fs::path& from, const fs::path& to) {
  fs::copy_file(from, to);
  fs::permissions(to, fs::perms::owner_read | fs::perms::owner_write);
  record::sync(to);
}

// Makes a folder as a whole or not at all.
template <class Fill>
void made_whole(const fs::path& folder, Fill fill) {
  const fs::path unfinished = fs::absolute(folder).lexically_normal().string() + ".unfinished";
  try {
    fs::remove_all(unfinished);  // of one that was broken off
    fs::create_directories(unfinished);
    fs::permissions(unfinished, fs::perms::owner_all);
    fill(unfinished);
    record::sync(unfinished);
    fs::rename(unfinished, folder);  // over an empty one: rename(2), POSIX.1-2017
    record::sync_folder_of(folder);
  } catch (const fs::filesystem_error& error) {
    std::error_code ignored;
    fs::remove_all(unfinished, ignored);
    throw wrong(error.path1().empty() ? folder : error.path1(), error.code().message(),
                "is the disk full, and may you write there?");
  } catch (...) {
    std::error_code ignored;
    fs::remove_all(unfinished, ignored);
    throw;
  }
}

void write_list(const fs::path& folder, const std::vector<std::string>& names, base::UtcTime now) {
  json::array files;
  for (const auto& name : names)
    files.push_back(json::object{
        {"name", name}, {"size_bytes", fs::file_size(folder / name)}, {"crc32", checksum_of_file(folder / name)}});
  const json::object list{
      {"format", format_name}, {"version", 1}, {"at_utc", record::utc_text(now)}, {"files", std::move(files)}};
  std::ofstream out(folder / list_name, std::ios::binary);
  out << record::text_of(list, record::Layout::indented) << '\n';
  out.close();
  if (!out) throw wrong(folder / list_name, "it cannot be written", "is the disk full?");
  record::sync(folder / list_name);
}

json::array files_of_list(const fs::path& folder) {
  std::ifstream in(folder / list_name, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), {}};
  const auto not_one = [&] {
    return wrong(folder, "this is no whole backup", "name a folder that `eyelevel records backup` has made");
  };
  if (!in) throw not_one();
  const auto list = record::parse_json(text, (folder / list_name).string());
  if (!list.is_object() || !list.get_object().contains("format") || list.at("format") != format_name) throw not_one();
  if (list.at("version") != 1) throw wrong(folder, "a newer eyelevel made this backup", "use the newer program");
  return list.at("files").as_array();
}

// A name leads nowhere else.
std::string checked_name(const fs::path& folder, const json::value& file) {
  std::string name = json::value_to<std::string>(file.at("name"));
  const bool is_known = std::find(databases.begin(), databases.end(), name) != databases.end() ||
                        std::find(others.begin(), others.end(), name) != others.end();
  if (!is_known) throw wrong(folder / list_name, "it names a file that this program does not know", "use a newer one");
  const fs::path path = folder / name;
  std::error_code error;
  if (fs::file_size(path, error) != file.at("size_bytes").to_number<std::uintmax_t>() || error ||
      checksum_of_file(path) != json::value_to<std::string>(file.at("crc32")))
    throw wrong(path, "it is not as it was when the backup was made; nothing was written", "use another backup");
  if (is_database(name)) record::require_sound(path);
  return name;
}

}  // namespace

std::vector<std::string> back_up_state(const fs::path& state, const fs::path& to, base::UtcTime now) {
  require_room(to);
  std::vector<std::string> names;
  for (const char* name : databases)
    if (fs::exists(state / name)) names.emplace_back(name);
  for (const char* name : others)
    if (fs::exists(state / name)) names.emplace_back(name);
  if (names.empty())
    throw Error(ErrorCode::not_found, state.string() + " holds nothing of a daemon",
                "name the folder of `eyeleveld --state`");
  made_whole(to, [&](const fs::path& unfinished) {
    for (const auto& name : names) {
      if (is_database(name))
        record::back_up_file(state / name, unfinished / name);
      else
        copy_plain(state / name, unfinished / name);
    }
    write_list(unfinished, names, now);
  });
  return names;
}

std::vector<std::string> restore_state(const fs::path& from, const fs::path& state) {
  require_room(state);
  std::vector<std::string> names;
  try {
    for (const auto& file : files_of_list(from)) names.push_back(checked_name(from, file));
  } catch (const boost::system::system_error&) {
    throw wrong(from / list_name, "it is damaged", "use another backup");
  }
  made_whole(state, [&](const fs::path& unfinished) {
    for (const auto& name : names) copy_plain(from / name, unfinished / name);
  });
  return names;
}

}  // namespace eyelevel::program
