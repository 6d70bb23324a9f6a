#include "server/service/inspection.h"

#include "server/day/state.h"
#include "server/log/hash.h"
#include "server/log/new_log.h"
#include "server/service/record.h"

#include "fieldpeg/v1/wire.pb.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

namespace fieldpeg::service {
namespace {

/// The version at which an answer was given; none: it is no answer.
std::optional<std::uint64_t> version_of(const log::Answered& answer) {
    v1::Reply reply;
    if (!reply.ParseFromString(answer.reply)) return std::nullopt;
    return reply.version();
}

/// All that stands in a log, and the day that it makes.
struct Standing {
    log::Batch batch;
    v1::DayState state;
    std::string head_hash = std::string(32, '\0');
    Beside beside;
    std::string fault;                ///< why no more of it stands
    std::vector<std::string> unread;  ///< tables that could not be read to their end
};

Standing standing_of(const log::DayLog& log) {
    Standing all;
    all.unread = log.read_what_can_be(all.batch);
    const auto read = fold_events(log, all.batch.names, all.state,
                                  [&](const log::Entry& e, const v1::Event& event) {
                                      auto right = columns(event, all.state);
                                      all.beside.take(e, right);
                                      right.record = e.record;
                                      all.batch.entries.push_back(std::move(right));
                                      all.head_hash = e.hash;
                                      return true;
                                  });
    if (!read) all.fault = read.error().why;
    return all;
}

/// The last entry that an answer speaks of.
std::uint64_t last_answered(const log::Batch& batch) {
    std::uint64_t last = 0;
    for (const auto& a : batch.answers) last = std::max(last, version_of(a).value_or(0));
    return last;
}

/// All that is wrong, the first bad entry first.
std::vector<std::string> faults(const log::DayLog& log, const Standing& all) {
    std::vector<std::string> wrong;
    if (const auto beside = all.beside.text(); !beside.empty()) wrong.push_back(beside);
    const auto last = all.state.version();
    if (!all.fault.empty())
        wrong.push_back(all.fault);
    else if (last == 0)
        wrong.emplace_back("entry 1: it is missing: the log has none");
    else if (const auto answered = last_answered(all.batch); answered > last)
        wrong.push_back(
            fmt::format("entry {}: it is missing, and what came after it: an answer "
                        "speaks of entry {}",
                        last + 1, answered));
    const auto broken = std::ranges::count_if(
        all.batch.answers, [](const log::Answered& a) { return !version_of(a); });
    if (broken > 0)
        wrong.push_back(fmt::format("of {} answers {} are none", all.batch.answers.size(), broken));
    if (!all.unread.empty())
        wrong.push_back(
            fmt::format("cannot be read to their end: {}", fmt::join(all.unread, ", ")));
    if (!wrong.empty()) return wrong;
    if (const auto whole = log.is_whole(); !whole) wrong.push_back(whole.error().why);
    return wrong;
}

}  // namespace

Result<v1::LogReply> verified(const std::string& log) {
    const auto opened = log::DayLog::open(log, log::DayLog::Access::read_damaged);
    if (!opened) return opened.error();
    const auto all = standing_of(**opened);
    const auto wrong = faults(**opened, all);
    v1::LogReply reply;
    reply.set_last_version(all.state.version());
    reply.set_head_hash(log::hex(all.head_hash));
    reply.set_verified(wrong.empty());
    if (!wrong.empty()) reply.set_fault(fmt::format("{}: {}", log, fmt::join(wrong, "; ")));
    return reply;
}

namespace {

/// Leaves out what belongs to entries that are lost. A number that nobody has any more is given
/// to the next who comes: no key may be theirs.
void keep_to_the_day(const v1::DayState& state, log::Batch& batch) {
    const auto is_nobody = [&](std::uint32_t id) {
        const auto* who = day::person(state, id);
        return who == nullptr || who->withdrawn();
    };
    std::erase_if(batch.keys, [&](const log::Key& k) { return is_nobody(k.person); });
    std::erase_if(batch.tickets, [&](const log::Ticket& t) {
        return t.pilot != 0 && std::ranges::none_of(state.sheet().pilots(), [&](const auto& p) {
                   return p.id() == t.pilot;
               });
    });
    std::erase_if(batch.answers, [&](const log::Answered& a) {
        const auto version = version_of(a);
        return !version || *version > state.version();
    });
    std::erase_if(batch.names, [&](const auto& name) { return name.first > state.last_id(); });
}

/// How many there were before and are not now, in words.
void tell_lost(const char* what, std::size_t before, std::size_t now,
               std::vector<std::string>& lost) {
    if (before != now)
        lost.push_back(
            fmt::format("{} of {} {} belong to what is lost", before - now, before, what));
}

}  // namespace

Result<Salvage> salvage(const std::string& from, const std::string& to) {
    const auto opened = log::DayLog::open(from, log::DayLog::Access::read_damaged);
    if (!opened) return opened.error();
    auto all = standing_of(**opened);
    if (all.batch.entries.empty())
        return Refusal{Refusal::Kind::unavailable, from,
                       all.fault.empty() ? "has no entry"
                                         : fmt::format("{}; nothing stands before it", all.fault),
                       "start the day anew from its day file, under another name"};
    Salvage saved;
    for (const auto& table : all.unread)
        saved.lost.push_back(fmt::format("some or all {} cannot be read", table));
    if (const auto beside = all.beside.text(); !beside.empty())
        saved.lost.push_back(fmt::format("{}: set right by the record", beside));
    const auto keys = all.batch.keys.size(), tickets = all.batch.tickets.size(),
               answers = all.batch.answers.size();
    keep_to_the_day(all.state, all.batch);
    tell_lost("keys", keys, all.batch.keys.size(), saved.lost);
    tell_lost("tickets", tickets, all.batch.tickets.size(), saved.lost);
    tell_lost("answers", answers, all.batch.answers.size(), saved.lost);
    saved.entries = all.batch.entries.size();
    saved.head_hash = log::hex(all.head_hash);
    saved.at_ms = all.state.at_ms();
    saved.fault = all.fault;
    if (auto written = log::write_new(to, all.batch); !written) return written.error();
    return saved;
}

}  // namespace fieldpeg::service
