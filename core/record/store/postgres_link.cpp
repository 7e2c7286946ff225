// SPDX-License-Identifier: Apache-2.0
#include "core/record/store/postgres_link.hpp"

#include <fmt/format.h>
#include <libpq-fe.h>

#include <map>

#include "core/record/journal/json_text.hpp"
#include "core/record/migration/migrations.hpp"

namespace eyelevel::record {

using base::Error;
using base::ErrorCode;
using base::ErrorRecord;

namespace {

using Options = std::map<std::string, std::string>;

// libpq's own text about a mistake may quote the whole string, password included: it is not told.
Options options_of(const std::string& where) {
  char* mistake = nullptr;
  PQconninfoOption* parsed = PQconninfoParse(where.c_str(), &mistake);
  PQfreemem(mistake);
  if (parsed == nullptr)
    throw Error(ErrorCode::bad_input, "the connection string of the database cannot be read",
                "write it as postgresql://USER@HOST:PORT/DATABASE, with %40 for an @ in a name or password");
  Options options;
  for (const PQconninfoOption* one = parsed; one->keyword != nullptr; ++one)
    if (one->val != nullptr) options[one->keyword] = one->val;
  PQconninfoFree(parsed);
  return options;
}

std::string value_of(const Options& options, const std::string& key) {
  const auto found = options.find(key);
  return found == options.end() ? "" : found->second;
}

std::string name_of(const Options& options) {
  const std::string user = value_of(options, "user"), host = value_of(options, "host"),
                    port = value_of(options, "port");
  const bool is_socket = host.starts_with('/');
  return fmt::format("postgresql://{}{}{}/{}{}", user.empty() ? "" : user + "@", is_socket ? "" : host,
                     port.empty() ? "" : ":" + port, value_of(options, "dbname"), is_socket ? "?host=" + host : "");
}

// A server that is gone without a word is noticed within seconds; a lock that is never given up is not waited for; and
// a commit that returned is on the disk whatever the server's usual way is (PostgreSQL 15 documentation, 34.1.2, 20.5.1
// and 20.11.1).
void add_usual(Options& options) {
  const Options usual{{"connect_timeout", "2"},     {"tcp_user_timeout", "5000"}, {"keepalives_idle", "5"},
                      {"keepalives_interval", "2"}, {"keepalives_count", "2"},    {"application_name", "eyelevel"},
                      {"client_encoding", "UTF8"}};
  options.insert(usual.begin(), usual.end());
  options["options"] += " -c synchronous_commit=on -c lock_timeout=10s -c client_min_messages=warning";
}

std::string text_of_options(const Options& options) {
  std::string text;
  for (const auto& [key, value] : options) {
    text += key + "='";
    for (const char c : value) {
      if (c == '\'' || c == '\\') text += '\\';
      text += c;
    }
    text += "' ";
  }
  return text;
}

struct Cause {
  ErrorCode code;
  std::string message;
  std::string advice;
};

// By the SQLSTATE (PostgreSQL 15 documentation, appendix A) and the kind of the exception.
Cause cause_of(ErrorCode refused, const std::exception& e) {
  if (dynamic_cast<const pqxx::in_doubt_error*>(&e) != nullptr)
    return {ErrorCode::no_connection,
            "the connection to the database broke while it stored: nobody knows whether it did",
            "is the server running, and the network up?"};
  if (dynamic_cast<const pqxx::broken_connection*>(&e) != nullptr)
    return {ErrorCode::no_connection, "the database cannot be reached",
            "is the server running, are host, port, user and password right, and does the database exist?"};
  const auto* sql = dynamic_cast<const pqxx::sql_error*>(&e);
  const std::string state = sql == nullptr ? "" : sql->sqlstate();
  if (state.starts_with("57P") || state.starts_with("08"))  // the server is being stopped, or was
    return {ErrorCode::no_connection, "the database cannot be reached", "is the server being stopped?"};
  if (state == "53100")
    return {refused, "the disk of the database is full", "free some space, then start the run again"};
  if (state == "55P03") return {refused, "another program kept it locked for too long", "is a backup working on it?"};
  if (state == "42501" || state == "25006")
    return {refused, "the database lets this user not do that", "give the user the rights to make and write tables"};
  if (state == "22021" || state == "22P05")
    return {refused, "the encoding of the database is not UTF8",
            "make one with: createdb --encoding UTF8 --template template0"};
  return {refused, "the database refused", "please report this as a defect"};
}

}  // namespace

bool is_database(std::string_view where) {
  return where.starts_with("postgresql://") || where.starts_with("postgres://");
}

PostgresLink::PostgresLink(const std::string& where, std::string at_once) : at_once_(std::move(at_once)) {
  Options options = options_of(where);
  name_ = name_of(options);
  add_usual(options);
  options_ = text_of_options(options);
}

PostgresLink::~PostgresLink() = default;

void PostgresLink::drop() { connection_.reset(); }

pqxx::connection& PostgresLink::connection() {
  if (connection_) return *connection_;
  // libpqxx 6.4 forgets to free a connection that failed: a daemon that waits for its server would grow by 2 kB at each
  // try.
  if (PQping(options_.c_str()) == PQPING_NO_RESPONSE) throw pqxx::broken_connection("the server does not answer");
  connection_ = std::make_unique<pqxx::connection>(options_);
  is_new_ = true;
  if (!at_once_.empty()) pqxx::nontransaction(*connection_).exec(at_once_);
  return *connection_;
}

bool PostgresLink::heard() {
  try {
    const bool is_told = connection().get_notifs() > 0;
    return std::exchange(is_new_, false) || is_told;
  } catch (const pqxx::pqxx_exception& e) {
    drop();
    throw error_of(ErrorCode::no_connection, "listening", e);
  }
}

Error PostgresLink::error_of(ErrorCode refused, const std::string& attempted, const pqxx::pqxx_exception& e) const {
  Cause cause = cause_of(refused, e.base());
  ErrorRecord record;
  record.code = cause.code;
  record.where = fmt::format("store {}", name_);
  record.message = std::move(cause.message);
  record.attempted = attempted;
  record.advice = std::move(cause.advice);
  record.cause = e.base().what();
  return Error(std::move(record));
}

Error PostgresLink::bad_database(std::string message, std::string advice) const {
  ErrorRecord record;
  record.code = ErrorCode::bad_input;
  record.where = fmt::format("store {}", name_);
  record.message = std::move(message);
  record.advice = std::move(advice);
  return Error(std::move(record));
}

namespace {

constexpr std::int64_t none = -1;

// What the database holds of ours: the number of its format, 0 where it is empty, `none` where it is another program's.
std::int64_t format_of(pqxx::work& transaction) {
  // In one statement: between two, another program may make the tables, which would then be nobody's.
  const auto seen = transaction.exec1(
      "SELECT to_regclass('eyelevel_format') IS NOT NULL, "
      "(SELECT COUNT(*) FROM pg_tables WHERE schemaname = current_schema())");
  if (seen[0].as<bool>()) return transaction.exec1("SELECT format FROM eyelevel_format")[0].as<std::int64_t>();
  return seen[1].as<std::int64_t>() == 0 ? 0 : none;
}

void migrate(pqxx::work& transaction, std::int64_t from) {
  if (from == 0) transaction.exec("CREATE TABLE eyelevel_format (format bigint NOT NULL)");
  const auto steps = postgres_migrations();
  for (const char* step : steps.subspan(static_cast<std::size_t>(from))) transaction.exec(step);
  transaction.exec("DELETE FROM eyelevel_format");
  transaction.exec_params("INSERT INTO eyelevel_format (format) VALUES ($1)", steps.size());
}

}  // namespace

void bring_up_to_date(PostgresLink& link, Create create) {
  const auto known = static_cast<std::int64_t>(postgres_migrations().size());
  const auto format =
      link.done(ErrorCode::bad_input, "opening", [](pqxx::work& transaction) { return format_of(transaction); });
  if (format == none)
    throw link.bad_database("this is the database of another program; nothing was written to it",
                            "make one for eyelevel: createdb NAME, and name it with --store");
  if (format > known)
    throw link.bad_database(
        fmt::format("a newer eyelevel wrote this store: its format is {}, this program knows formats up to {}; nothing "
                    "was written to it",
                    format, known),
        "use the newer program, or name another database with --store");
  if (format == 0 && create == Create::no)
    throw Error(ErrorCode::not_found, fmt::format("store {}: it holds no records yet", link.name()),
                "run a sequence first, or name the store with --store");
  if (format == known) return;
  link.done(ErrorCode::bad_input, "making its tables", [&](pqxx::work& transaction) {
    // One program at a time, and read again: another one may have done it while this one waited.
    transaction.exec_params("SELECT pg_advisory_xact_lock($1)", store_application_id);
    if (const auto now = format_of(transaction); now >= 0 && now < known) migrate(transaction, now);
    return true;
  });
}

std::vector<std::string> texts(const pqxx::row& row) {
  std::vector<std::string> list;
  for (const auto& field : row) list.emplace_back(field.c_str());
  return list;
}

pqxx::result rows_of(pqxx::work& transaction, const Query& query) {
  return transaction.exec_params(query.sql, pqxx::prepare::make_dynamic_params(query.values));
}

}  // namespace eyelevel::record
