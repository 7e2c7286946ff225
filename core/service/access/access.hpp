// SPDX-License-Identifier: Apache-2.0
// Who asks, and may they. At a loopback address nobody needs to sign in unless it is wanted; everywhere else everybody
// does. What is known stands in memory, every change is in the ledger before it is told. One loop.
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <string_view>

#include "core/base/timeline.hpp"
#include "core/record/journal/store_thread.hpp"
#include "core/service/access/back_off.hpp"
#include "core/service/access/ledger.hpp"
#include "core/service/access/rights.hpp"
#include "core/service/http/message.hpp"

namespace eyelevel::service {

// Who sent a request.
struct Caller {
  std::string user;  // empty: nobody signed in
  std::string name;  // for audit and records: the user, "token 3 of NAME", "at this machine"
  Rights rights;
  std::string mark;  // of the session or token; empty: none
  bool is_session = false;
  std::string seat;          // the bench at which it stands; empty: none
  bool is_at_every = false;  // stands at every bench: this machine, where nobody signs in
  bool is_at(std::string_view bench) const { return is_at_every || (!seat.empty() && seat == bench); }
};

struct AccessPolicy {
  bool is_open = true;     // nobody needs to sign in
  bool is_secure = false;  // over TLS
  // Cookies are for a host, whatever its port (RFC 6265, 8.5): daemons on one host need names of their own.
  int port = 0;
};

class Access {
 public:
  static constexpr base::Duration idle = std::chrono::hours(12);
  static constexpr base::Duration session_at_most = std::chrono::hours(24 * 7);
  static constexpr std::size_t sign_ins_at_once = 4;  // each takes 64 MiB and 0.1 s of a thread of its own

  // References must outlive it. Blocks once, to read the ledger.
  Access(base::Timeline& timeline, Ledger& ledger, record::StoreThread& ledger_thread);
  Access(const Access&) = delete;
  Access& operator=(const Access&) = delete;
  ~Access();

  void set_policy(const AccessPolicy& policy) { policy_ = policy; }
  const AccessPolicy& policy() const { return policy_; }
  bool has_administrator() const;

  Caller caller_of(const http::Request& request) const;
  // A session that is used lasts.
  task<> keep_used(std::string mark);
  // Throws http::Problem: 401 when nobody signed in, 403 when that one may not.
  void require(const Caller& caller, Right right) const;
  void require_seat(const Caller& caller, std::string_view bench) const;
  // False once the session or token has ended, or its user lost the right: for what lasts.
  bool still_may(const Caller& caller, Right right) const;

  // The secret of the new session. Throws http::Problem: 401, or 429 with how long to wait.
  task<std::string> sign_in(std::string name, std::string password, std::string peer);
  task<> sign_out(std::string mark);

  const std::vector<User>& users() const { return book_.users; }
  const std::vector<Token>& tokens() const { return book_.tokens; }
  const std::vector<Seat>& seats() const { return book_.seats; }
  // Throws http::Problem(409) when there is one of that name, (422) for a bad name or a weak password.
  task<> add_user(std::string name, Rights rights, std::string password);
  // Throws http::Problem(404), and (409) when nobody would be left who may administer.
  task<> set_rights(std::string name, Rights rights);
  task<> remove_user(std::string name);
  // Ends every session of that user but the one of `keep`.
  task<> set_password(std::string name, std::string password, std::string keep);
  // Throws http::Problem(422) when it is not. Counts as a try to sign in.
  task<> require_password(std::string name, std::string password, std::string peer);

  // The number of the new one, and the secret, which is told this once.
  task<std::pair<std::int64_t, std::string>> add_token(Token token);
  task<> remove_token(std::int64_t id);
  task<std::pair<std::int64_t, std::string>> add_seat(Seat seat);
  task<> remove_seat(std::int64_t id);

  task<std::int64_t> note(AuditEntry entry);
  task<> told(std::int64_t number, int status);
  task<std::vector<AuditEntry>> audit(std::int64_t before, std::size_t at_most);

  // "Set-Cookie" of a secret; an empty one ends it.
  std::string session_cookie(std::string_view secret) const;
  std::string seat_cookie(std::string_view secret) const;

 private:
  User* find_user(std::string_view name);
  const User* find_user(std::string_view name) const;
  Caller caller_of_session(std::string_view secret) const;
  Caller caller_of_token(std::string_view secret) const;
  std::string seat_of(const http::Request& request) const;
  bool is_over(const Session& session) const;
  void require_administrator_without(std::string_view name) const;
  task<bool> is_right(std::string name, std::string password, std::string peer);
  task<std::string> hashed(std::string password);
  task<> in_ledger(std::function<void()> work) { return ledger_thread_.done(timeline_, std::move(work)); }
  std::string cookie_name(std::string_view what) const;
  std::string cookie(std::string_view what, std::string_view secret, base::Duration keep) const;

  base::Timeline& timeline_;
  Ledger& ledger_;
  record::StoreThread& ledger_thread_;
  record::StoreThread hashing_;  // so that no record waits for a password
  AccessPolicy policy_;
  Book book_;
  BackOff back_off_;
  std::size_t signing_in_ = 0;
};

}  // namespace eyelevel::service
