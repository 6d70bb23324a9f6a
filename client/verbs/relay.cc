#include "client/link/in_process.h"
#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"
#include "server/book/channels.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

const std::string bare_group = "Without a day file";

struct RelayOptions {
    Common common;
    std::string relay, channel, power;
    double owner_distance_m = 0;
    std::string neighbour_channel;
    double neighbour_distance_m = 0;
    std::string neighbour_power = "25mW";
    double neighbour_range_m = 130;
    std::string emission, receiver, antenna, neighbour_receiver, neighbour_antenna;
    bool on_air = false;
    bool bare_flags = false;  ///< some flag was given that belongs to the question without a day
};

int print_answered(const v1::Answer& answer, bool json) {
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.relay_check();
    if (!print(json ? show::json_text(reply)
                    : show::relay_check_text(reply, show::look_of_stdout())))
        return failed;
    const bool harms = !reply.harmed().empty() || reply.answer() == v1::RelayCheckReply::too_strong;
    return harms ? refused : done;
}

int check_of_day(const RelayOptions& options) {
    if (options.bare_flags)
        return say_bad_input("relay check",
                             "a relay of the day and flags for a question without a day; one of "
                             "the two");
    v1::Query query;
    auto* ask = query.mutable_relay_check();
    ask->set_relay(options.relay);
    ask->set_basis(options.on_air ? v1::Basis::on_air : v1::Basis::held);
    if (!set_channel("--channel", options.channel, *ask) ||
        !set_power("--power", options.power, *ask))
        return bad_input;
    const auto [link, status] = open(options.common);
    if (!link) return status;
    return print_answered(link->ask(query), options.common.json);
}

int check_without_day(const RelayOptions& options) {
    if (options.channel.empty() || options.power.empty() || options.neighbour_channel.empty() ||
        options.owner_distance_m <= 0 || options.neighbour_distance_m <= 0)
        return say_bad_input("relay check",
                             "name a relay of the day, or give all of --channel, --power, "
                             "--owner-distance, --neighbour-channel and --neighbour-distance");
    const auto channel = channel_argument("--channel", options.channel);
    const auto power = power_argument("--power", options.power);
    const auto neighbour = channel_argument("--neighbour-channel", options.neighbour_channel);
    const auto neighbour_power = power_argument("--neighbour-power", options.neighbour_power);
    if (!channel || !power || !neighbour || !neighbour_power) return bad_input;

    v1::Query query;
    auto* ask = query.mutable_bare_relay_check();
    *ask->mutable_channel() = *channel;
    ask->set_power_dbm(*power);
    ask->set_owner_distance_m(options.owner_distance_m);
    *ask->mutable_neighbour_channel() = *neighbour;
    ask->set_neighbour_distance_m(options.neighbour_distance_m);
    ask->set_neighbour_power_dbm(*neighbour_power);
    ask->set_neighbour_range_m(options.neighbour_range_m);
    ask->set_emission(options.emission);
    ask->set_receiver(options.receiver);
    ask->set_antenna(options.antenna);
    ask->set_neighbour_receiver(options.neighbour_receiver);
    ask->set_neighbour_antenna(options.neighbour_antenna);
    return print_answered(link::InProcess().ask(query), options.common.json);
}

}  // namespace

void add_relay(Verb& program, Run& run) {
    const auto options = std::make_shared<RelayOptions>();
    auto relay = program.verb("relay", "Ground relays");
    relay.needs_verb();
    add_relay_course(relay, run);
    auto verb = relay.verb(
        "check", "Before switching a relay on: enough for its owner, too much for somebody else?");
    verb.value("RELAY", options->relay, "a relay of the day; without one, the flags below");
    add_day(verb, options->common);
    add_as(verb, options->common);
    verb.value("--channel", options->channel, "instead of the one it holds").type_name("CHANNEL");
    verb.value("--power", options->power, "instead of the one it holds: 25mW, 0.6W, 14dBm")
        .type_name("POWER");
    add_on_air(verb, options->on_air);
    add_json(verb, options->common);
    std::vector<Argument> bare;
    const auto of_bare = [&](Argument argument) {
        bare.push_back(argument.group(bare_group));
        return argument;
    };
    const auto distance = [&](const char* flag, double& into, const char* what) {
        return of_bare(verb.value(flag, into, what)
                           .type_name("METRES")
                           .within(book::distance_m_min, book::distance_m_max));
    };
    const auto text = [&](const char* flag, std::string& into, const char* what, const char* type) {
        return of_bare(verb.value(flag, into, what).type_name(type));
    };
    distance("--owner-distance", options->owner_distance_m,
             "from the relay to its owner's goggles");
    text("--neighbour-channel", options->neighbour_channel, "what the neighbour flies on",
         "CHANNEL");
    distance("--neighbour-distance", options->neighbour_distance_m,
             "from the relay to the neighbour's goggles");
    text("--neighbour-power", options->neighbour_power, "of the neighbour's aircraft", "POWER")
        .shows_default();
    of_bare(
        verb.value("--neighbour-range", options->neighbour_range_m, "how far the neighbour flies")
            .type_name("METRES")
            .within(book::range_m_min, book::range_m_max)
            .shows_default());
    text("--emission", options->emission, "of both, from 'fieldpeg gear'", "NAME");
    text("--receiver", options->receiver, "of the owner", "NAME");
    text("--antenna", options->antenna, "of the relay and its owner", "NAME");
    text("--neighbour-receiver", options->neighbour_receiver, "of the neighbour", "NAME");
    text("--neighbour-antenna", options->neighbour_antenna, "of the neighbour", "NAME");
    verb.footer(
        "Exit status 3: somebody's picture would be lost.\n"
        "Examples:\n"
        "  fieldpeg relay check \"Dee's tripod\" --day saturday.toml --power 600mW\n"
        "  fieldpeg relay check --channel F4 --power 200mW --owner-distance 25 \\\n"
        "      --neighbour-channel R6 --neighbour-distance 8");
    verb.callback([options, bare, &run] {
        options->bare_flags = std::ranges::any_of(bare, &Argument::is_given);
        run = [options] {
            return options->relay.empty() ? check_without_day(*options) : check_of_day(*options);
        };
    });
}

}  // namespace fieldpeg::verbs
