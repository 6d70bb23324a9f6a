#pragma once

#include "server/log/hash.h"
#include "server/service/keeper.h"
#include "tests/support/pegs.h"
#include "tests/support/temporary.h"

#include <cstdint>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::testing {

/// A day with its files in a folder of its own, held by a keeper. Time goes on by a second with
/// everything that is asked.
class KeptDay {
public:
    explicit KeptDay(std::string_view text = club_day())
        : files_(service::files_of(folder_.at("saturday.toml"))) {
        write_file(files_.sheet, text);
        open();
    }

    /// Lets the day go and takes it up again, as another run of the program would.
    void reopen() {
        keeper_.reset();
        open();
    }
    void close() { keeper_.reset(); }

    v1::Reply take(const v1::Command& command, const day::Actor& actor = {},
                   const std::string& idempotency_key = "") {
        service::Ask ask;
        ask.actor = actor;
        ask.command = command;
        ask.idempotency_key = idempotency_key;
        return keeper_->take(ask, ++now_s_ * 1000);
    }

    /// Joins with a key whose 32 bytes are all `key`.
    v1::Reply enter(const std::string& secret, const std::string& name, char key) {
        return enter_as(secret, name, key_of(key));
    }
    /// Joins with any key.
    v1::Reply enter_as(const std::string& secret, const std::string& name, const std::string& key) {
        service::Entrance entrance;
        entrance.secret = secret;
        entrance.name = name;
        entrance.key_hash = log::sha256(key);
        return keeper_->enter(entrance, ++now_s_ * 1000);
    }

    /// The secret of a new ticket, for a role or for one pilot.
    std::string ticket(v1::Role::Kind role, const std::string& pilot = "") {
        v1::Command command;
        command.mutable_renew_ticket()->set_role(role);
        command.mutable_renew_ticket()->set_pilot(pilot);
        return take(command).ticket().ticket();
    }

    /// Who a key is; a person of no role that could do anything if it is nobody's.
    day::Actor actor(char key) const {
        const auto* who = keeper_->person_of(key_of(key));
        if (!who) throw std::logic_error("nobody has this key");
        return {who->id(), who->role()};
    }

    static std::string key_of(char key) { return std::string(32, key); }

    service::Keeper& keeper() { return *keeper_; }
    const service::DayFiles& files() const { return files_; }
    const std::vector<std::string>& differences() const { return differences_; }
    std::int64_t now_ms() const { return now_s_ * 1000; }
    void set_now_ms(std::int64_t now_ms) { now_s_ = now_ms / 1000; }

private:
    void open() {
        differences_.clear();
        auto keeper =
            service::Keeper::open(files_, log::DayLog::Access::write, now_ms(), differences_);
        if (!keeper) throw std::runtime_error(keeper.error().why);
        keeper_ = *std::move(keeper);
    }

    TemporaryFolder folder_;
    service::DayFiles files_;
    std::int64_t now_s_ = 1'800'000'000;
    std::vector<std::string> differences_;
    std::unique_ptr<service::Keeper> keeper_;
};

}  // namespace fieldpeg::testing
