#include "server/book/channels.h"
#include "server/book/names.h"
#include "server/day/apply.h"
#include "server/day/assessment.h"
#include "server/day/board.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/day/timeline_picture.h"
#include "server/day/words.h"
#include "server/log/hash.h"
#include "server/service/answer.h"
#include "server/service/cautions.h"
#include "server/service/input.h"
#include "server/service/keeper.h"
#include "server/service/lookalikes.h"
#include "server/service/near.h"
#include "server/service/pictures.h"
#include "server/service/record.h"

#include "fieldpeg/v1/numbers.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <initializer_list>
#include <optional>
#include <vector>

/// What a Keeper answers without changing anything.
namespace fieldpeg::service {
namespace {

/// Takes one more event in, and tells of it: by its record, whatever stands beside that.
v1::LogEntry taken(const std::string& hash, const v1::Event& event, v1::DayState& state) {
    const auto e = columns(event, state);
    v1::LogEntry m;
    m.set_version(e.version);
    m.set_at_ms(e.at_ms);
    m.set_kind(e.kind);
    if (e.frequency_mhz) m.set_frequency_mhz(day::milli(*e.frequency_mhz));
    if (e.power_dbm) m.set_power_dbm(day::milli(*e.power_dbm));
    m.set_text(day::sentence(event, state));
    m.set_hash(log::hex(hash));
    if (event.has_claimed()) m.set_allowed_because(event.claimed().claim().allowed_because());
    if (event.has_stage_set()) m.set_allowed_because(event.stage_set().allowed_because());
    if (event.has_warning()) *m.mutable_warning() = event.warning();
    if (event.has_field_closed()) *m.mutable_closed() = event.field_closed();
    // What is gone has its name before, what comes has it after.
    const bool is_new = event.has_parts_put() || event.has_joined() || event.has_seen();
    if (e.subject != 0 && !is_new) m.set_subject(day::name_of(state, e.subject));
    day::apply(state, event);
    if (e.subject != 0 && is_new) m.set_subject(day::name_of(state, e.subject));
    m.set_actor(day::name_of(state, e.actor));
    return m;
}

bool is_asked_for(const v1::LogEntry& e, const v1::LogQuery& q) {
    if (e.version() <= q.after()) return false;
    const auto is_them = [&](const std::string& name) {
        return book::name_key(name) == book::name_key(q.pilot());
    };
    if (!q.pilot().empty() && !is_them(e.actor()) && !is_them(e.subject())) return false;
    if (e.at_ms() < q.from_ms() || (q.to_ms() != 0 && e.at_ms() > q.to_ms())) return false;
    if (!q.kind().empty() && e.kind() != q.kind()) return false;
    if (!q.has_near_mhz()) return true;
    const double within = q.within_mhz() > 0 ? q.within_mhz() : neighbourhood_mhz;
    return e.has_frequency_mhz() && std::abs(e.frequency_mhz() - q.near_mhz()) <= within;
}

/// Times are reckoned with; none that a clock will show overflows.
bool are_times(const v1::Query& query) {
    return std::ranges::all_of(
        std::initializer_list<std::int64_t>{query.moment().at_ms(), query.log().from_ms(),
                                            query.log().to_ms(), query.airtime().from_ms(),
                                            query.airtime().to_ms(), query.airtime().until_ms()},
        v1::is_time_ms);
}

Refusal no_time() {
    return {Refusal::Kind::out_of_range, "question", "asks about a time beyond all clocks",
            "times up to the end of the year 9999"};
}

v1::Answer refused(const Refusal& why) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message(why);
    return answer;
}

bool is_of_the_past(const v1::Moment& moment) {
    return moment.version() != 0 || moment.at_ms() != 0;
}

/// The time that a moment means. `then` is the state of it.
std::int64_t asked_ms(const v1::Moment& moment, const v1::DayState& then, std::int64_t now_ms) {
    if (!is_of_the_past(moment)) return now_ms;
    return moment.version() != 0 ? then.at_ms() : moment.at_ms();
}

/// Whether the networks that the server itself is on are entered as emitters, and what to do.
std::pair<bool, std::string> wifi_text(const v1::Field& field, const std::vector<double>& own) {
    if (own.empty())
        return {true,
                "the machine does not tell its channel; enter an access point that is on: "
                "fieldpeg field emitter"};
    constexpr double near_mhz = 10;
    for (const double mhz : own) {
        const bool known = std::ranges::any_of(field.emitters(), [&](const v1::Emitter& e) {
            return std::abs(e.channel().mhz() - mhz) <= near_mhz;
        });
        if (!known)
            return {false, fmt::format("this server's network is on {} MHz and is not entered: "
                                       "fieldpeg field emitter 'our network' --place PLACE "
                                       "--channel {}",
                                       day::mhz_text(mhz), day::mhz_text(mhz))};
    }
    return {true, "the networks of this server are entered"};
}

}  // namespace

namespace {

/// Where a log stood at a time: more than once if the clock was set back over it.
class Readings {
public:
    explicit Readings(std::int64_t at_ms) : at_ms_(at_ms) {}

    /// The next event, which is taken into the day unless that time was over before it.
    void take(const v1::Event& event, v1::DayState& state) {
        if (event.at_ms() > at_ms_) {
            if (!is_over_ && last_ != 0) versions_.push_back(last_);
            is_over_ = true;
        } else if (event.has_clock_jumped()) {
            is_over_ = false;
        }
        last_ = event.version();
        if (versions_.empty()) day::apply(state, event);
    }
    void end(v1::DayState& state) {
        if (!is_over_) versions_.push_back(last_);
        if (versions_.empty()) state.Clear();  // it was over before the log began
    }
    bool has_one() const { return !versions_.empty(); }

    /// Why it cannot be said which is meant.
    std::optional<Refusal> several() const {
        if (versions_.size() < 2) return std::nullopt;
        return Refusal{
            Refusal::Kind::malformed, "moment",
            fmt::format("this time comes {} times in the log: the server's clock was set back",
                        versions_.size()),
            fmt::format("name the entry that you mean: #{} is as it stood the first time, #{} the "
                        "last",
                        versions_.front(), versions_.back())};
    }

private:
    std::int64_t at_ms_;
    std::uint64_t last_ = 0;
    bool is_over_ = false;
    std::vector<std::uint64_t> versions_;
};

}  // namespace

Result<v1::DayState> Keeper::state_at(const v1::Moment& moment) const {
    v1::DayState state;
    Readings readings(moment.at_ms());
    const bool is_time = moment.version() == 0;
    const auto read = each(is_time ? UINT64_MAX : moment.version(),
                           [&](const log::Entry&, const v1::Event& event) {
                               if (is_time)
                                   readings.take(event, state);
                               else
                                   day::apply(state, event);
                               return true;
                           });
    // What is damaged came after the moment: it is known how the day stood.
    if (!read && !readings.has_one()) return read.error();
    if (read && is_time) readings.end(state);
    if (const auto several = readings.several()) return *several;
    if (state.version() == 0)
        return Refusal{Refusal::Kind::not_found, "moment", "the log of the day begins later",
                       "'fieldpeg log' shows its times"};
    return state;
}

/// The radio model by whose numbers the day was decided when it stood at a version.
std::string Keeper::model_at(std::uint64_t version) const {
    std::string model;
    const auto read = each(version, [&](const log::Entry&, const v1::Event& event) {
        model = event.model();
        return true;
    });
    return read ? model : "";
}

/// Adds what is asked for of the log's first entries, up to where the log is not what was written;
/// then what is wrong with it. Where something else stands beside a record than it says, that is in
/// `fault`.
Result<void> Keeper::entries(std::uint64_t up_to, const v1::LogQuery& query,
                             v1::LogReply& reply) const {
    v1::DayState state;
    Beside beside;
    auto read = each(up_to, [&](const log::Entry& e, const v1::Event& event) {
        beside.take(e, columns(event, state));
        auto m = taken(e.hash, event, state);
        if (reply.models().empty() || *reply.models().rbegin() != event.model())
            reply.add_models(event.model());
        if (is_asked_for(m, query) &&
            (query.most() == 0 || reply.entries_size() < static_cast<int>(query.most())))
            *reply.add_entries() = std::move(m);
        return true;
    });
    reply.set_last_version(state.version());
    reply.set_fault(beside.text());
    return read;
}

v1::Answer Keeper::log_answer(const v1::LogQuery& query) const {
    v1::Answer answer;
    auto& reply = *answer.mutable_log();
    const auto read = entries(UINT64_MAX, query, reply);
    reply.set_head_hash(log::hex(head_hash_));
    auto fault = reply.fault();
    if (!read) fault += (fault.empty() ? "" : "; ") + read.error().why;
    reply.set_verified(fault.empty());
    if (!fault.empty()) reply.set_fault(fmt::format("{}: {}", log_->path(), fault));
    return answer;
}

/// Until the moment that is asked about.
v1::Answer Keeper::timeline_answer(const v1::Query& query, const v1::DayState& then,
                                   std::int64_t now_ms) const {
    if (const auto wrong = outside_paper(query.timeline_picture().paper())) return refused(*wrong);
    v1::Moment beginning;
    beginning.set_version(1);
    const auto first = state_at(beginning);
    if (!first) return refused(first.error());
    v1::LogReply log;
    const auto read = entries(then.version(), {}, log);
    if (!read) return refused(read.error());
    v1::Answer answer;
    auto ask = query.timeline_picture();
    if (ask.until_ms() == 0) ask.set_until_ms(asked_ms(query.moment(), then, now_ms));
    *answer.mutable_timeline_picture() = day::timeline_picture(day::board(*first), log, ask);
    return answer;
}

v1::Answer Keeper::near_answer(const v1::Query& query, const v1::DayState& then,
                               std::int64_t now_ms) const {
    v1::Answer answer;
    for (auto& wrong :
         {outside("mhz", query.near().mhz(), book::channel_mhz_min, book::channel_mhz_max),
          outside("within_mhz", query.near().within_mhz(), 0, book::channel_mhz_max)})
        if (wrong) return refused(*wrong);
    const auto hindsight = this->hindsight(then, asked_ms(query.moment(), then, now_ms));
    if (!hindsight) return refused(hindsight.error());
    *answer.mutable_near() = near(query.near(), *hindsight);
    return answer;
}

/// A moment, and all that was said after it.
Result<Hindsight> Keeper::hindsight(const v1::DayState& then, std::int64_t at_ms) const {
    Hindsight hindsight(then, at_ms);
    v1::DayState state;
    const auto read = each(UINT64_MAX, [&](const log::Entry&, const v1::Event& event) {
        if (event.version() > then.version()) hindsight.take(event, day::sentence(event, state));
        day::apply(state, event);
        return true;
    });
    if (!read) return read.error();
    return hindsight;
}

/// What an explanation of the past needs beside it: by whose numbers it was shown then, and what
/// was found out later.
void Keeper::add_later(const v1::Query& query, const v1::DayState& then, std::int64_t now_ms,
                       v1::ExplainReply& reply) const {
    if (const auto model = model_at(then.version()); !model.empty() && model != day::model_name)
        reply.set_recomputed(
            fmt::format("what was shown then was reckoned by the {}, this is by the {}: "
                        "numbers and words may differ",
                        model, day::model_name));
    const auto hindsight = this->hindsight(then, asked_ms(query.moment(), then, now_ms));
    if (!hindsight) return;
    for (const auto& fact : hindsight->later()) *reply.add_later() = fact.text();
}

v1::Answer Keeper::ready_answer(std::int64_t now_ms) const {
    v1::Answer answer;
    auto& reply = *answer.mutable_ready();
    const auto add = [&](bool good, const char* what, std::string text) {
        auto& check = *reply.add_checks();
        check.set_good(good);
        check.set_what(what);
        check.set_text(std::move(text));
    };
    const auto fault = this->fault();
    add(fault.empty(), "log",
        fault.empty() ? fmt::format("{} entries, the chain holds; head {}", state_.version(),
                                    log::hex(head_hash_).substr(0, 16))
                      : fault);
    for (auto& check : log_ ? log_->checks() : std::vector<log::LogCheck>())
        add(check.is_good, check.what.c_str(), std::move(check.text));
    const auto behind = state_.at_ms() - now_ms;
    add(behind <= 0, "clock",
        behind <= 0 ? "not behind the last entry of the log"
                    : fmt::format("{:.0f} s behind the last entry of the log",
                                  static_cast<double>(behind) / 1000));
    add(state_.sheet().has_rules(), "rules",
        state_.sheet().has_rules() ? state_.sheet().rules().name()
                                   : "no rule set is chosen: fieldpeg rules NAME");
    add(!state_.sheet().field().areas().empty(), "field",
        fmt::format("{} places, {} flying areas", state_.sheet().field().places_size(),
                    state_.sheet().field().areas_size()));
    const auto [is_entered, wifi] = wifi_text(state_.sheet().field(), own_wifi_mhz());
    add(is_entered, "wi-fi", wifi);
    add_checks(reply);
    for (const auto text : cautions) reply.add_cautions(std::string(text));
    return answer;
}

v1::Answer Keeper::answer(const v1::Query& query, std::int64_t now_ms) const {
    if (!are_times(query)) return refused(no_time());
    Result<v1::DayState> then = v1::DayState();
    const bool past = is_of_the_past(query.moment());
    if (past) then = state_at(query.moment());
    if (!then) return refused(then.error());
    const auto& state = past ? *then : state_;
    v1::Answer answer;
    switch (query.ask_case()) {
        case v1::Query::kBoard:
            *answer.mutable_board() = day::board(state);
            say_resembled(state, *answer.mutable_board());
            break;
        case v1::Query::kLog:
            answer = log_answer(query.log());
            break;
        case v1::Query::kDay:
            *answer.mutable_day()->mutable_sheet() = state.sheet();
            *answer.mutable_day()->mutable_people() = state.people();
            answer.mutable_day()->set_version(state.version());
            break;
        case v1::Query::kReady:
            answer = ready_answer(now_ms);
            break;
        case v1::Query::kNear:
            answer = near_answer(query, state, now_ms);
            break;
        case v1::Query::kFree:
            answer = free_answer(query.free(), state, memory_);
            break;
        case v1::Query::kAirtime:
            answer =
                airtime_answer(query.airtime(), state, asked_ms(query.moment(), state, now_ms));
            break;
        case v1::Query::kTimelinePicture:
            answer = timeline_answer(query, state, now_ms);
            break;
        default:
            answer = service::answer(query, &state.sheet());
            break;
    }
    if (past && answer.has_explain()) add_later(query, state, now_ms, *answer.mutable_explain());
    answer.set_version(state.version());
    return answer;
}

v1::Change Keeper::change(std::span<const v1::Event> events,
                          std::span<const std::string> happened) const {
    v1::Change change;
    change.set_version(state_.version());
    *change.mutable_board() = day::board(state_);
    say_resembled(state_, *change.mutable_board());
    for (const auto& text : happened) change.add_happened(text);
    for (const auto& e : events) {
        if (e.has_warning()) *change.add_warnings() = e.warning();
        for (auto& text : day::call_outs(e, state_)) change.add_call_out(std::move(text));
    }
    return change;
}

}  // namespace fieldpeg::service
