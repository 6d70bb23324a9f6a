#include "client/show/day.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct GroupOptions {
    Common common;
    unsigned group = 0;
    bool down = false;
    bool yes = false;
    std::vector<std::string> but;
};

int show_groups(const GroupOptions& options) {
    int status = done;
    print_board(options.common, show::groups_text, status);
    return status;
}

int call(const GroupOptions& options) {
    v1::Command command;
    auto& ask = *command.mutable_call_group();
    ask.set_group(options.group);
    ask.set_down(options.down);
    ask.set_yes_anyway(options.yes);
    for (const auto& name : options.but) ask.add_but(name);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_group(Verb& program, Run& run) {
    const auto options = std::make_shared<GroupOptions>();
    auto group = program.verb("group", "The flight groups, and whose turn it is");
    add_course(group, options->common);
    group.footer(
        "While a group is called only it, and who has no group, gets a yes.\n"
        "Examples:\n"
        "  fieldpeg group\n"
        "  fieldpeg group call 2\n"
        "  fieldpeg group call 2 --down --but Ben");
    auto verb = group.verb("call", "The marshal: this group flies now");
    verb.value("NUMBER", options->group, "the group; 0: whoever likes").required();
    verb.flag("--down", options->down,
              "the aircraft of the groups before are off: you have seen it");
    verb.value("--but", options->but, "with --down: who of them still flies").type_name("NAME");
    verb.flag("--yes", options->yes, "with --down: those that were named are off");
    add_course(verb, options->common);
    verb.footer(
        "Says who is still on the air, who of the next may look and switch on, and who waits for\n"
        "whom. --down never touches relays, what is always on, what is down, or sightings.");
    verb.callback([options, &run] { run = [options] { return call(*options); }; });
    group.callback([options, &run] {  // called after that of a verb below it
        if (!run) run = [options] { return show_groups(*options); };
    });
}

}  // namespace fieldpeg::verbs
