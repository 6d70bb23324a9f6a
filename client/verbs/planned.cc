#include "client/verbs/planned.h"
#include "server/day/trial.h"

#include <algorithm>

namespace fieldpeg::verbs {

void add_plan_flags(Verb& verb, PlanFlags& flags) {
    verb.value("--who", flags.who, "plan for these pilots and relays; default: everybody")
        .type_name("NAME")
        .split_at(',');
    verb.value("--keep", flags.keep, "who may not be moved from what they hold")
        .type_name("NAME")
        .split_at(',');
    verb.value("--margin", flags.margin_db, "what everybody is to reach, in dB; default 0")
        .type_name("DB");
    verb.flag("--tight", flags.tight, "as if nobody passed close: 98 % of the flight counts alone");
    verb.flag("--powers", flags.powers,
              "choose powers even for those who hold one: the least that is steady");
    verb.flag("--landed", flags.landed,
              "as if all who are on the air now were off: for the flights to come");
    verb.value("--seconds", flags.seconds, "how long it may take; default 10").type_name("SECONDS");
    verb.flag("--apply", flags.apply, "the marshal gives it out: all of it, or nothing");
    verb.flag("--yes", flags.yes, "with --apply: even if somebody would be in trouble");
    verb.value("--because", flags.reason, "with --apply: why others are to pay").type_name("TEXT");
}

Opened open_plan(const Common& common, const PlanFlags& flags) {
    return flags.apply ? open_course(common, Access::write) : open(common);
}

int give_out(link::Link& link, const std::vector<v1::PlanChoice>& choices, const PlanFlags& flags,
             bool json) {
    v1::Command command;
    auto& assign = *command.mutable_assign();
    for (const auto& choice : choices) {
        auto& one = *assign.add_all();
        one.set_transmitter(choice.transmitter());
        one.mutable_channel()->set_name(choice.channel());
        one.mutable_channel()->set_mhz(choice.channel_mhz());
        one.set_power_dbm(choice.power_dbm());
        one.set_group(choice.group());
    }
    assign.set_yes_anyway(flags.yes);
    assign.set_allowed_because(flags.reason);
    return tell_and_print(link, command, json);
}

bool any_in_trouble(const google::protobuf::RepeatedPtrField<v1::PlanChoice>& choices) {
    return std::ranges::any_of(choices, day::in_trouble, &v1::PlanChoice::verdict);
}

}  // namespace fieldpeg::verbs
