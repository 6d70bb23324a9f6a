#pragma once

#include "client/link/link.h"
#include "client/show/look.h"
#include "client/verbs/arguments.h"

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fieldpeg::verbs {

/// Exit statuses, for scripts.
enum Exit : int {
    done = 0,  ///< nobody has others to blame for a bad picture
    failed = 1,
    bad_input = 2,
    refused = 3,  ///< refused, or shaky or clash found
    no_answer = 4,
};

/// What a verb that was asked for will do once all arguments are read; its exit status.
using Run = std::function<int()>;

/// Each adds one verb to the program. When the verb is on the command line it leaves in `run` what
/// is to be done.
void add_new(Verb& program, Run& run);
void add_day(Verb& program, Run& run);
void add_check(Verb& program, Run& run);
void add_explain(Verb& program, Run& run);
void add_relay(Verb& program, Run& run);
void add_relay_course(Verb& relay, Run& run);  ///< add, on, off, remove
void add_gear(Verb& program, Run& run);
void add_kits(Verb& program, Run& run);
void add_measure(Verb& gear, Run& run);
void add_sweep(Verb& program, Run& run);
void add_channels(Verb& program, Run& run);
void add_join(Verb& program, Run& run);
void add_board(Verb& program, Run& run);
void add_watch(Verb& program, Run& run);
void add_claim(Verb& program, Run& run);
void add_release(Verb& program, Run& run);
void add_on(Verb& program, Run& run);
void add_off(Verb& program, Run& run);
void add_seen(Verb& program, Run& run);
void add_allow(Verb& program, Run& run);
void add_pilot(Verb& program, Run& run);
void add_field(Verb& program, Run& run);
void add_rules(Verb& program, Run& run);
void add_log(Verb& program, Run& run);
void add_log_file(Verb& log, Run& run);      ///< verify, salvage
void add_log_archived(Verb& log, Run& run);  ///< push, pull
void add_archive(Verb& program, Run& run);
void add_reach(Verb& program, Run& run);
void add_ready(Verb& program, Run& run);
void add_ticket(Verb& program, Run& run);
void add_group(Verb& program, Run& run);
void add_day_end(Verb& day, Run& run);
void add_day_set(Verb& day, Run& run);
void add_gpx(Verb& field, Run& run);
void add_geojson(Verb& field, Run& run);
void add_told(Verb& program, Run& run);
void add_line(Verb& program, Run& run);
void add_find(Verb& program, Run& run);
void add_hand_over(Verb& program, Run& run);
void add_plan(Verb& program, Run& run);
void add_rota(Verb& program, Run& run);
void add_picture(Verb& program, Run& run);
void add_report(Verb& program, Run& run);
void add_pegs(Verb& program, Run& run);
/// What --help says of a verb, by the words that lead to it; empty where they do not.
using HelpOfVerb = std::function<std::string(const std::vector<std::string>& words)>;
void add_help(Verb& program, Run& run, HelpOfVerb help_of);
void add_complete(Verb& program, Run& run);  ///< for shells; not in the help

/// What most verbs take: the day and the form of the answer.
struct Common {
    std::string day;  ///< a day file; empty: the server that was joined
    std::string as;   ///< who speaks, where several joined from here
    bool json = false;
    bool as_written = false;  ///< the day file alone, though its log has begun
};
void add_day(Verb& verb, Common& common);
/// For verbs about the course of a day.
void add_course(Verb& verb, Common& common);
void add_as(Verb& verb, Common& common);
void add_json(Verb& verb, Common& common);
/// What is counted, and how many contributions are told of each receiver.
void add_on_air(Verb& verb, bool& on_air);
void add_terms(Verb& verb, unsigned& terms);

/// Which flights of a day with groups are looked at.
struct Groups {
    std::optional<unsigned> only;
    bool all_at_once = false;
};
void add_groups(Verb& verb, Groups& groups);
template <class Query>
void set_groups(const Groups& groups, Query& query) {
    if (groups.only) query.set_group(*groups.only);
    query.set_all_at_once(groups.all_at_once);
}

/// A link, or the exit status after saying on stderr all that is wrong.
struct Opened {
    std::unique_ptr<link::Link> link;
    int status = done;
};
/// For a question about a day as it is written, or to a server: --day FILE, else the server that
/// was joined, else day.toml in this folder. The log of a day file is left alone.
Opened open(const Common& common);
/// For what changes the day or asks about its course: the server that was joined, or, with --day,
/// the day's log in this process; to read, nothing is written.
enum class Access { read, write };
/// Where a day file says otherwise than its log: said on stderr, or the verb's own matter.
enum class Otherwise { said, shown_by_verb };
Opened open_course(const Common& common, Access access, Otherwise otherwise = Otherwise::said);

/// Asks a question that takes long; on a terminal it shows how far it is. Ctrl-C: enough, the
/// answer is what there is by then.
v1::Answer ask_long(link::Link& link, const v1::Query& query);

/// Sends a command; on a refusal that has no more to show, says it and leaves its status.
struct Sent {
    v1::Reply reply;
    int status = done;
    std::int64_t now_ms = 0;  ///< the service's clock
};
Sent send(const Common& common, const v1::Command& command);
Sent send(link::Link& link, const v1::Command& command, bool json);

/// Sends a command and prints what came of it.
int tell_and_print(const Common& common, const v1::Command& command);
int tell_and_print(link::Link& link, const v1::Command& command, bool json);
/// Prints what came of a command; its exit status.
int print_sent(const v1::Reply& reply, std::int64_t now_ms, bool json);
/// Prints a reply, as JSON or as `text`, and what is to be called out because of it on stderr.
int print_reply(const v1::Reply& reply, bool json, const std::string& text);

/// Asks for the board as it is now and prints it, as JSON or as `text` has it. None: that failed,
/// it was said, and `status` is set.
using BoardText = std::string (*)(const v1::BoardReply&, std::int64_t now_ms, const show::Look&);
std::optional<v1::BoardReply> print_board(const Common& common, BoardText text, int& status);

/// A moment, read against the day's own date. None: what is wrong has been said, and `status` is
/// set.
std::optional<v1::Moment> moment_argument(std::string_view flag, const std::string& written,
                                          link::Link& link, int& status);

/// Prints to standard output. False if it takes no more.
bool print(std::string_view text);

/// Says why on stderr: program, place, what is wrong; a second line if there is something to do.
int say_refusal(const v1::Refusal& refusal);
int say_refusal(const Refusal& refusal);
int say_bad_input(std::string_view where, std::string_view why);

/// A channel or power argument in the words of the command line; none with the reason said.
std::optional<v1::Channel> channel_argument(std::string_view flag, const std::string& written);
std::optional<double> power_argument(std::string_view flag, const std::string& written);

/// The same into a message that may leave it out: nothing written, nothing set. False: it is none,
/// which has been said.
template <class Message>
bool set_channel(std::string_view flag, const std::string& written, Message& message) {
    if (written.empty()) return true;
    const auto channel = channel_argument(flag, written);
    if (channel) *message.mutable_channel() = *channel;
    return channel.has_value();
}
template <class Message>
bool set_power(std::string_view flag, const std::string& written, Message& message) {
    if (written.empty()) return true;
    const auto power = power_argument(flag, written);
    if (power) message.set_power_dbm(*power);
    return power.has_value();
}

}  // namespace fieldpeg::verbs
