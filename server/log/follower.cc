#include "server/log/follower.h"

#include "server/log/database_place.h"

#include <utility>

namespace fieldpeg::log {
namespace {

constexpr std::int64_t says_each_ms = 1000;
/// Longer than whoever takes a day over needs to have the doorbell.
constexpr std::int64_t after_a_false_ring_ms = 2000;

}  // namespace

Follower::Follower(std::string place, std::string address)
    : place_(std::move(place)), address_(std::move(address)) {}

Result<std::unique_ptr<Follower>> Follower::begin(std::string place, std::string address) {
    std::unique_ptr<Follower> follower(new Follower(std::move(place), std::move(address)));
    auto database =
        Database::connect(database_place(follower->place_).address, "fieldpeg follower");
    if (!database) return database.error();
    if (auto room = make_room_for(**database, database_place(follower->place_).day); !room)
        return room.error();
    follower->database_ = *std::move(database);
    return follower;
}

bool Follower::connect() {
    if (database_ && database_->is_up()) return true;
    auto database = Database::connect(database_place(place_).address, "fieldpeg follower");
    if (!database) return false;
    database_ = *std::move(database);
    return true;
}

/// By the clock of the database alone.
void Follower::say_that_we_wait() {
    if (since_boot_ms() - said_ms_ < says_each_ms) return;
    said_ms_ = since_boot_ms();
    database_->ask(
        "INSERT INTO standby VALUES ($1::bigint, $2, now()) ON CONFLICT (day, address) DO UPDATE "
        "SET seen = now()",
        Values().add(seen_->no).add(address_));
}

/// The bell is asked for under a term. Rung under another, it was between two holders: then whoever
/// has the day now shall have it.
bool Follower::is_rung(const DaySeen& now) {
    if (since_boot_ms() < asks_again_ms_) return false;
    if (!bell_ || !bell_->is_up()) {
        auto database = Database::connect(database_place(place_).address, "fieldpeg bell");
        if (!database || !(*database)->send(bell_of("pg_advisory_lock", now.no).c_str()))
            return false;
        bell_ = *std::move(database);
        asked_under_term_ = now.term;
    }
    if (!bell_->arrived()) return false;
    if (asked_under_term_ == now.term) return true;
    bell_.reset();
    asks_again_ms_ = since_boot_ms() + after_a_false_ring_ms;
    return false;
}

Follower::Sight Follower::look() {
    Sight sight;
    const auto now = connect() ? look_at_day(*database_, database_place(place_).day)
                               : Told<std::optional<DaySeen>>(DatabaseError());
    if (!now || !*now) {
        seen_.reset();  // whoever has the day could show no sign of life either
        return sight;
    }
    const auto& day = **now;
    const bool is_alive = !seen_ || seen_->beat != day.beat || seen_->term != day.term ||
                          seen_->version != day.version;
    if (is_alive) changed_ms_ = since_boot_ms();
    seen_ = day;
    say_that_we_wait();
    const bool is_silent = since_boot_ms() - changed_ms_ > day.silence.count();
    sight.answers = true;
    sight.holder = day.holder;
    sight.may_take = day.term == 0 || is_silent || is_rung(day);
    return sight;
}

Result<std::unique_ptr<DayLog>> Follower::take() {
    bell_.reset();
    if (!seen_)
        return Refusal{Refusal::Kind::unavailable, database_place(place_).shown(),
                       "was not looked at", ""};
    auto taken = PostgresLog::take(place_, *seen_, seen_->silence);
    if (!taken) return taken;
    database_->ask("DELETE FROM standby WHERE day = $1::bigint AND address = $2",
                   Values().add(seen_->no).add(address_));
    return taken;
}

}  // namespace fieldpeg::log
