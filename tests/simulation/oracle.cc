#include "tests/simulation/oracle.h"

#include "server/day/apply.h"
#include "server/day/state.h"
#include "server/service/record.h"
#include "tests/simulation/commands.h"
#include "tests/simulation/promises.h"
#include "tests/support/pegs.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace fieldpeg::simulation {

Oracle::Oracle(UnsureDisk& disk, std::string log_path) : disk_(disk), path_(std::move(log_path)) {}

Oracle::~Oracle() = default;

void Oracle::started(const service::Keeper& keeper) {
    const UnsureDisk::Aside aside(disk_);
    auto opened = log::DayLog::open(path_, log::DayLog::Access::read);
    if (!opened) throw Broken("the log cannot be read: " + opened.error().why);
    reader_ = *std::move(opened);
    if (const auto fault = reader_->verify())
        throw Broken(
            fmt::format("the chain is broken at entry {}: {}", fault->version, fault->why));
    expect_what_was_there();
    read_on(keeper.state().version());
    compare(keeper);
    expect_answers_kept();
}

void Oracle::look(const service::Keeper& keeper) {
    const auto version = keeper.state().version();
    if (version == fold_.version() && !hashes_.empty() && keeper.head_hash() == hashes_.back())
        return;
    const UnsureDisk::Aside aside(disk_);
    if (version < fold_.version())
        throw Broken(
            fmt::format("the server went back from version {} to {}", fold_.version(), version));
    read_on(version);
    compare(keeper);
}

void Oracle::read_on(std::uint64_t up_to) {
    if (up_to == fold_.version()) return;
    std::vector<std::pair<v1::Event, v1::DayState>> happened;
    const auto read = reader_->each(fold_.version(), up_to, [&](const log::Entry& entry) {
        const auto before = fold_;
        happened.emplace_back(take(entry), before);
        return true;
    });
    if (!read) throw Broken("the log cannot be read: " + read.error().why);
    if (fold_.version() != up_to)
        throw Broken(
            fmt::format("the server is at version {}, the log at {}", up_to, fold_.version()));
    for (const auto& [event, before] : happened) {
        const auto wrong = broken_by(event, before, fold_);
        if (!wrong.empty())
            throw Broken(
                fmt::format("{}: entry {}: {}", wrong, event.version(), event.ShortDebugString()));
    }
}

v1::Event Oracle::take(const log::Entry& entry) {
    auto event = service::event(entry, reader_->names().value());
    if (!event) throw Broken(fmt::format("entry {} is no event", entry.version));
    day::apply(fold_, *event);
    hashes_.push_back(entry.hash);
    air_[entry.version] = air_of(fold_);
    if (const auto mark = mark_in(*event); !mark.empty()) {
        marks_[mark].push_back(entry.version);
        if (marks_[mark].size() > 1)
            throw Broken(fmt::format("{} was asked once, and is in the log twice: entry {}", mark,
                                     entry.version));
    }
    return *std::move(event);
}

void Oracle::compare(const service::Keeper& keeper) const {
    if (testing::bytes_of(keeper.state()) != testing::bytes_of(fold_))
        throw Broken(fmt::format("the state at version {} is not the fold of the log:\n{}\nand\n{}",
                                 fold_.version(), keeper.state().ShortDebugString(),
                                 fold_.ShortDebugString()));
    if (!hashes_.empty() && keeper.head_hash() != hashes_.back())
        throw Broken("the head of the chain is another than the log's");
}

/// Whatever the server took for so before it ended.
void Oracle::expect_what_was_there() const {
    std::uint64_t at = 0;
    const auto read = reader_->each(0, hashes_.size(), [&](const log::Entry& entry) {
        if (entry.hash != hashes_[at])
            throw Broken(fmt::format("entry {} is another than before the restart", at + 1));
        ++at;
        return true;
    });
    if (!read || at != hashes_.size())
        throw Broken(fmt::format("{} entries were acknowledged, {} are there", hashes_.size(), at));
}

void Oracle::expect_answers_kept() {
    const auto answers = reader_->answers();
    if (!answers) throw Broken("the answers cannot be read: " + answers.error().why);
    std::map<std::string, v1::Reply> kept;
    for (const auto& one : *answers) {
        v1::Reply reply;
        if (!reply.ParseFromString(one.reply) || !kept.emplace(one.idempotency_key, reply).second)
            throw Broken("what is kept as the answer to " + one.idempotency_key + " is not one");
    }
    for (const auto& [key, yes] : yeses_) {
        const auto found = kept.find(key);
        if (found != kept.end())
            expect_alike(key, yes, found->second);
        else if (marks_.contains(key))
            throw Broken("the answer to " + key + " is lost, and what it did is not");
    }
    refused_yet_kept_ =
        static_cast<int>(std::ranges::count_if(unrecorded_, [&](const std::string& key) {
            return kept.contains(key) && !yeses_.contains(key);
        }));
}

void Oracle::told(int client, std::map<int, std::uint64_t>& last, std::uint64_t version,
                  const char* what) {
    if (version > fold_.version())
        throw Broken(fmt::format("client {} was told of version {} by a {}, and there is none",
                                 client, version, what));
    if (version < last[client])
        throw Broken(fmt::format("client {} was told of version {} after {} by a {}", client,
                                 version, last[client], what));
    last[client] = version;
}

void Oracle::heard(int client, const v1::ServerFrame& frame, bool is_fresh) {
    if (frame.has_change()) told(client, last_change_, frame.change().version(), "change");
    if (frame.has_welcome()) {
        auto& last = last_said_[client];
        last = std::max(last, last_change_[client]);  // over all that came by connections before
        told(client, last_said_, frame.welcome().version(), "welcome");
    }
    if (frame.response().has_answer() && !frame.response().answer().has_refusal())
        told(client, last_said_, frame.response().answer().version(), "answer");
    if (frame.response().has_reply() && is_fresh)
        told(client, last_said_, frame.response().reply().version(), "reply");
}

void Oracle::replied(const std::string& key, const v1::Command& command, const v1::Reply& reply) {
    if (reply.refusal().kind() == v1::Refusal::unavailable) unrecorded_.insert(key);
    if (!is_yes(reply)) return;
    auto& yes = yeses_[key];
    yes.command = command;
    yes.replies.push_back(reply);
    expect_true(key, command, reply);
}

/// What changed nothing is not kept, and is decided anew when it is asked again; from the first
/// that did on, each answer is that one.
void Oracle::expect_alike(const std::string& key, const Yes& yes, const v1::Reply& kept) const {
    for (const auto& reply : yes.replies) {
        const bool is_earlier = reply.version() < kept.version() && sends_.at(key) > 1;
        if (!is_earlier && reply.SerializeAsString() != kept.SerializeAsString())
            throw Broken(fmt::format("{} was answered twice, and not alike:\n{}\nand\n{}", key,
                                     reply.ShortDebugString(), kept.ShortDebugString()));
    }
}

void Oracle::expect_true(const std::string& key, const v1::Command& command,
                         const v1::Reply& reply) const {
    const auto at = air_.find(reply.version());
    if (at == air_.end())
        throw Broken(fmt::format("{} was answered with version {}, and there is none", key,
                                 reply.version()));
    const auto wrong = untrue(command, reply, at->second);
    if (!wrong.empty())
        throw Broken(fmt::format("{} was told that {}, and at version {} it is not so: {}", key,
                                 wrong, reply.version(), reply.ShortDebugString()));
    const auto mark = marks_.find(key);
    if (mark != marks_.end() && mark->second.front() > reply.version())
        throw Broken(key + " was done after it was answered");
    if (leaves_a_mark(command, reply) && mark == marks_.end())
        throw Broken(key + " was answered with yes, and is not in the log");
}

void Oracle::settle(service::Keeper& keeper, std::int64_t now_ms) {
    look(keeper);
    const UnsureDisk::Aside aside(disk_);
    expect_what_was_there();
    expect_answers_kept();
    if (const auto fault = reader_->verify()) throw Broken("the chain is broken: " + fault->why);
    for (const auto& kept : reader_->answers().value()) expect_kept_again(keeper, kept, now_ms);
}

/// Asked again, it is answered as it was and does nothing.
void Oracle::expect_kept_again(service::Keeper& keeper, const log::Answered& kept,
                               std::int64_t now_ms) {
    const auto yes = yeses_.find(kept.idempotency_key);
    if (yes == yeses_.end()) return;
    service::Ask ask;
    ask.actor.id = kept.person;
    ask.actor.role = v1::Role::marshal;
    ask.command = yes->second.command;
    ask.idempotency_key = kept.idempotency_key;
    const auto again = keeper.prepare({&ask, 1}, now_ms);
    if (again.replies.front().SerializeAsString() != kept.reply)
        throw Broken(kept.idempotency_key + " asked again is answered otherwise");
    for (const auto& event : again.events)
        if (event.actor() == kept.person)
            throw Broken(kept.idempotency_key + " asked again is done again");
}

}  // namespace fieldpeg::simulation
