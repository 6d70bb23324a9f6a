#include "client/show/day.h"
#include "client/verbs/verb.h"
#include "server/day/state.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

struct DayEndOptions {
    Common common;
};

int day_end(const DayEndOptions& options) {
    int status = done;
    const auto board = print_board(options.common, show::day_end_text, status);
    if (!board) return status;
    return std::ranges::any_of(board->rows(), day::radiates, &v1::BoardRow::stage) ? refused : done;
}

}  // namespace

void add_day_end(Verb& day, Run& run) {
    const auto options = std::make_shared<DayEndOptions>();
    auto verb = day.verb("end", "Before everybody goes: who is still on, down, or holds a channel");
    add_course(verb, options->common);
    verb.footer(
        "Exit status 3: something is on the air, on the bench or down. Nothing is switched off or\n"
        "given back by this.\n"
        "Example:\n"
        "  fieldpeg day end && fieldpeg report --out sunday.html");
    verb.callback([options, &run] { run = [options] { return day_end(*options); }; });
}

}  // namespace fieldpeg::verbs
