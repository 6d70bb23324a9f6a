#include "server/log/lease.h"

#include <fmt/format.h>

#include <ctime>

namespace fieldpeg::log {
namespace {

constexpr std::chrono::milliseconds beat_each{500};
constexpr int looks_around_each = 4;  // beats
/// Of what is said once a second.
constexpr const char* waiting_still = "interval '5 seconds'";

}  // namespace

std::int64_t since_boot_ms() {
    timespec now{};
    ::clock_gettime(CLOCK_BOOTTIME, &now);
    return now.tv_sec * 1000 + now.tv_nsec / 1'000'000;
}

std::string bell_of(const char* function, std::int64_t day) {
    return fmt::format("SELECT {}(x'46706567'::int, {})", function, day);
}

Lease::Lease(std::string address, std::int64_t day, std::int64_t term,
             std::chrono::milliseconds silence)
    : address_(std::move(address)),
      day_(day),
      term_(term),
      silence_(silence),
      last_good_ms_(since_boot_ms()),
      copies_{true, "copies", "not looked yet"},
      thread_([this](const std::stop_token& stop) { beat_until_stopped(stop); }) {}

Lease::~Lease() = default;

Hold Lease::hold() const {
    if (is_lost_) return Hold::lost;
    return since_boot_ms() - last_good_ms_ < silence_.count() ? Hold::sure : Hold::unsure;
}

void Lease::answered_at(const std::string& address) {
    const std::lock_guard lock(one_at_a_time_);
    announced_ = address;
}

std::vector<std::string> Lease::standbys() const {
    const std::lock_guard lock(one_at_a_time_);
    return standbys_;
}

LogCheck Lease::copies() const {
    const std::lock_guard lock(one_at_a_time_);
    return copies_;
}

void Lease::beat_until_stopped(const std::stop_token& stop) {
    std::unique_ptr<Database> database;
    for (int n = 0; !stop.stop_requested() && !is_lost_; ++n) {
        beat(database);
        if (database && n % looks_around_each == 0) look_around(*database);
        std::unique_lock lock(one_at_a_time_);
        stopping_.wait_for(lock, stop, beat_each, [] { return false; });
    }
}

/// Nothing of it has to be on disk: who finds an older sign waits for longer.
void Lease::beat(std::unique_ptr<Database>& database) {
    if (!database || !database->is_up()) {
        auto connected = Database::connect(address_, "fieldpeg holder");
        if (!connected || !(*connected)->run("SET synchronous_commit = off")) return;
        database = *std::move(connected);
        has_bell_ = false;
    }
    if (!has_bell_) {  // one who waits may have it for a moment, between two holders
        const auto bell = database->ask(bell_of("pg_try_advisory_lock", day_).c_str());
        has_bell_ = bell && bell->number(0, 0) != 0;
    }
    const auto sent_ms = since_boot_ms();
    const auto beaten =
        database->ask("UPDATE beat SET n = n + 1 WHERE day = $1::bigint AND term = $2::bigint",
                      Values().add(day_).add(term_), silence_);
    if (!beaten) return;
    if (beaten->changed() == 0)
        is_lost_ = true;
    else
        last_good_ms_ = sent_ms;
}

void Lease::look_around(Database& database) {
    std::optional<std::string> announced;
    {
        const std::lock_guard lock(one_at_a_time_);
        announced = announced_;
    }
    if (announced)
        database.ask(
            "UPDATE day SET holder = $3 WHERE no = $1::bigint AND term = $2::bigint AND holder <> "
            "$3",
            Values().add(day_).add(term_).add(*announced), silence_);
    const auto waiting = database.ask(
        fmt::format("SELECT address FROM standby WHERE day = $1::bigint AND seen > now() - {} "
                    "ORDER BY address",
                    waiting_still)
            .c_str(),
        Values().add(day_), silence_);
    const auto copies = database.ask(
        "SELECT current_setting('synchronous_standby_names') <> '', count(*) FILTER (WHERE "
        "sync_state IN ('sync', 'quorum') AND state = 'streaming'), count(*) FROM "
        "pg_stat_replication",
        {}, silence_);
    const std::lock_guard lock(one_at_a_time_);
    if (waiting) {
        standbys_.clear();
        for (int i = 0; i < waiting->size(); ++i) standbys_.push_back(waiting->bytes(i, 0));
    }
    if (!copies) return;
    const bool must_be = copies->number(0, 0) != 0;
    const auto in_sync = copies->number(0, 1), all = copies->number(0, 2);
    copies_.is_good = !must_be || in_sync > 0;
    copies_.text = must_be && in_sync == 0
                       ? "the second copy of the database is missing: nothing is recorded until it "
                         "is back"
                   : must_be ? "each yes is on a second copy of the database too"
                   : all > 0 ? "a copy of the database follows, and may be behind"
                             : "the database has no copy: if its disk goes, the day goes with it";
}

}  // namespace fieldpeg::log
