#include "client/show/day.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct LineOptions {
    Common common;
    std::string who;
    unsigned place = 0;
};

int show_line(const LineOptions& options) {
    int status = done;
    print_board(options.common, show::line_text, status);
    return status;
}

int leave(const LineOptions& options) {
    v1::Command command;
    command.mutable_leave_line()->set_transmitter(options.who);
    return tell_and_print(options.common, command);
}

int move(const LineOptions& options) {
    v1::Command command;
    command.mutable_move_in_line()->set_transmitter(options.who);
    command.mutable_move_in_line()->set_place(options.place);
    return tell_and_print(options.common, command);
}

}  // namespace

void add_line(Verb& program, Run& run) {
    const auto options = std::make_shared<LineOptions>();
    auto line = program.verb("line", "Who waits to be called when it is free, in order");
    add_course(line, options->common);
    line.footer(
        "Whenever something changes, the first who would get a yes is called by name, for a\n"
        "minute. Whoever does not answer lets one pass; after two calls they leave the line.\n"
        "Examples:\n"
        "  fieldpeg on --when-free\n"
        "  fieldpeg line\n"
        "  fieldpeg line move Gil 1");
    auto out = line.verb("leave", "Give a place up");
    out.value("NAME", options->who, "default: your own aircraft");
    add_course(out, options->common);
    out.callback([options, &run] { run = [options] { return leave(*options); }; });
    auto order = line.verb("move", "The marshal: give somebody another place");
    order.value("NAME", options->who, "who waits").required();
    order.value("PLACE", options->place, "from 1").required();
    add_course(order, options->common);
    order.callback([options, &run] { run = [options] { return move(*options); }; });
    line.callback([options, &run] {  // called after that of a verb below it
        if (!run) run = [options] { return show_line(*options); };
    });
}

}  // namespace fieldpeg::verbs
