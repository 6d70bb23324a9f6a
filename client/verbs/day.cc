#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"

#include <unistd.h>

#include <iostream>

namespace fieldpeg::verbs {
namespace {

struct Taking {
    Common common;
    std::string file, only;
    bool yes = false;
};

bool is_wanted() {
    std::cerr << "Take this over? y or n: " << std::flush;
    std::string line;
    std::getline(std::cin, line);
    return line == "y" || line == "yes";
}

int left_as_it_is(const std::string& file) {
    say_bad_input(file, "nothing was taken over");
    std::cerr << "  to take it over say --yes\n";
    return refused;
}

/// Shows what would change, and takes it over once that is wanted.
int take(const Taking& taking) {
    const auto text = read_text(taking.file);
    if (!text) return bad_input;
    const auto opened = open_course(taking.common, Access::write, Otherwise::shown_by_verb);
    if (!opened.link) return opened.status;
    v1::Command command;
    auto& ask = *command.mutable_take_day();
    ask.set_toml(*text);
    ask.set_file(taking.file);
    ask.set_only(taking.only);
    ask.set_yes_anyway(taking.yes);
    if (taking.yes) return tell_and_print(*opened.link, command, taking.common.json);
    const auto shown = send(*opened.link, command, taking.common.json);
    if (shown.status != done) return shown.status;
    const auto status = print_reply(shown.reply, taking.common.json,
                                    show::take_text(shown.reply.take(), show::look_of_stdout()));
    if (status != done || shown.reply.take().differences().empty()) return status;
    const bool asks = !taking.common.json && ::isatty(STDIN_FILENO) == 1 && taking.file != "-";
    if (!asks || !is_wanted()) return left_as_it_is(taking.file);
    ask.set_yes_anyway(true);
    return tell_and_print(*opened.link, command, false);
}

void add_take(Verb& day, Run& run) {
    const auto taking = std::make_shared<Taking>();
    auto verb =
        day.verb("take", "The marshal: what the day file says otherwise counts from now on");
    verb.value("FILE", taking->file, "the day file as it is now, - for standard input").required();
    verb.value("--only", taking->only,
               "only what is called so: a pilot, a relay, a place, 'rules', 'day' for its head")
        .type_name("NAME");
    verb.flag("--yes", taking->yes, "do not ask back");
    add_course(verb, taking->common);
    verb.footer(
        "Shows what is different, old -> new, and asks back; without a terminal it takes nothing\n"
        "over but with --yes. All of it is taken over, or nothing. What somebody holds and no\n"
        "longer fits is given back, its flight group kept, and the best for them is named. Who is\n"
        "gone from the file but holds a channel stays until it is released.\n"
        "Examples:\n"
        "  fieldpeg day take saturday.toml\n"
        "  fieldpeg day take saturday.toml --only Hugo --yes");
    verb.callback([taking, &run] { run = [taking] { return take(*taking); }; });
}

}  // namespace

void add_day(Verb& program, Run& run) {
    auto day = program.verb("day", "The day as a whole");
    day.needs_verb();
    add_day_set(day, run);
    add_take(day, run);
    add_day_end(day, run);
}

}  // namespace fieldpeg::verbs
