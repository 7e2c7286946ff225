// SPDX-License-Identifier: Apache-2.0
#include "core/service/access/ledger.hpp"

#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <fstream>

#include "core/base/error.hpp"
#include "tests/support/temporary_folder.hpp"

using namespace eyelevel;
using namespace eyelevel::service;

namespace {

constexpr base::UtcTime now{std::chrono::sys_days{std::chrono::year(2030) / 1 / 7}};

struct Kept {
  test::TemporaryFolder folder;
  std::filesystem::path path = folder.path() / "access.db";
  Ledger ledger{path};

  void add_user(const std::string& name) { ledger.put(User{name, *Rights::read("look, change"), "hash", now}); }
};

}  // namespace

TEST_CASE("ledger: what was put down is there for the next one who opens the file", "[service]") {
  Kept kept;
  kept.add_user("ada");
  kept.ledger.put(Session{"mark of a session", "ada", now, now});
  const auto token = kept.ledger.add(
      Token{0, "mark of a token", "ada", "scripts", *Rights::read("look"), now, now + std::chrono::hours(24)});
  const auto seat = kept.ledger.add(Seat{0, "mark of a seat", "lanternfield-1", "the tablet", "ada", now});
  const auto book = Ledger(kept.path).read();
  REQUIRE(book.users.size() == 1);
  CHECK(book.users[0].name == "ada");
  CHECK(book.users[0].rights.text() == "look, change");
  CHECK(book.users[0].password_hash == "hash");
  REQUIRE(book.sessions.size() == 1);
  CHECK(book.sessions[0].mark == "mark of a session");
  CHECK(book.sessions[0].begun == now);
  REQUIRE(book.tokens.size() == 1);
  CHECK(book.tokens[0].id == token);
  CHECK(book.tokens[0].expires == now + std::chrono::hours(24));
  CHECK(book.tokens[0].rights.text() == "look");
  REQUIRE(book.seats.size() == 1);
  CHECK(book.seats[0].id == seat);
  CHECK(book.seats[0].bench == "lanternfield-1");
}

TEST_CASE("ledger: with a user go sessions and tokens", "[service]") {
  Kept kept;
  kept.add_user("ada");
  kept.add_user("bo");
  for (const std::string name : {"ada", "bo"}) {
    kept.ledger.put(Session{"session of " + name, name, now, now});
    kept.ledger.add(Token{0, "token of " + name, name, "", Rights::all(), now, now});
  }
  kept.ledger.remove_user("ada");
  const auto book = kept.ledger.read();
  REQUIRE(book.users.size() == 1);
  REQUIRE(book.sessions.size() == 1);
  CHECK(book.sessions[0].user == "bo");
  REQUIRE(book.tokens.size() == 1);
  CHECK(book.tokens[0].user == "bo");
}

TEST_CASE("ledger: all sessions of a user but one can be ended", "[service]") {
  Kept kept;
  kept.add_user("ada");
  for (const std::string mark : {"one", "two", "three"}) kept.ledger.put(Session{mark, "ada", now, now});
  kept.ledger.remove_other_sessions("ada", "two");
  REQUIRE(kept.ledger.read().sessions.size() == 1);
  CHECK(kept.ledger.read().sessions[0].mark == "two");
  kept.ledger.remove_session("two");
  CHECK(kept.ledger.read().sessions.empty());
}

TEST_CASE("ledger: the audit is read newest first, page by page", "[service]") {
  Kept kept;
  for (int i = 1; i <= 5; ++i) {
    AuditEntry entry;
    entry.at = now;
    entry.who = "ada";
    entry.what = "POST /api/1/jobs";
    entry.with = "bytes that are no UTF-8: \xff";
    CHECK(kept.ledger.add(entry) == i);
  }
  kept.ledger.told(5, 201);
  const auto newest = kept.ledger.audit(0, 2);
  REQUIRE(newest.size() == 2);
  CHECK(newest[0].number == 5);
  CHECK(newest[0].status == 201);
  CHECK(newest[1].status == 0);
  CHECK(newest[0].with == "bytes that are no UTF-8: \xEF\xBF\xBD");
  const auto before = kept.ledger.audit(4, 10);
  REQUIRE(before.size() == 3);
  CHECK(before[0].number == 3);
}

TEST_CASE("ledger: only its owner may read it", "[service]") {
  Kept kept;
  kept.add_user("ada");
  for (const auto& entry : std::filesystem::directory_iterator(kept.folder.path())) {
    struct stat status{};
    REQUIRE(::stat(entry.path().c_str(), &status) == 0);
    CAPTURE(entry.path().filename());
    CHECK((status.st_mode & 0777U) == 0600U);
  }
}

TEST_CASE("ledger: a file that is none, or another program's, is refused", "[service]") {
  test::TemporaryFolder folder;
  std::ofstream(folder.path() / "text") << std::string(5000, 'x');
  CHECK_THROWS_AS(Ledger(folder.path() / "text"), base::Error);
  CHECK_THROWS_AS(Ledger(folder.path() / "absent" / "access.db"), base::Error);
}
