#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct RulesOptions {
    Common common;
    std::string name;
};

int rules(const RulesOptions& options) {
    v1::Command command;
    command.mutable_set_rules()->set_rules(options.name == "none" ? "" : options.name);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_rules(Verb& program, Run& run) {
    const auto options = std::make_shared<RulesOptions>();
    auto verb = program.verb("rules", "Choose the rule set that the day is held against");
    verb.value("NAME", options->name, "from 'fieldpeg gear', or none").required();
    add_course(verb, options->common);
    verb.footer(
        "Its remarks are advice; what may be used where, and with which licence, is for the "
        "authority\n"
        "and the club.\n"
        "Example:\n"
        "  fieldpeg rules cept-25mw");
    verb.callback([options, &run] { run = [options] { return rules(*options); }; });
}

}  // namespace fieldpeg::verbs
