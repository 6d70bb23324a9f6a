#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct BoardOptions {
    Common common;
    std::string at;
};

int board(const BoardOptions& options) {
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_board();
    if (!options.at.empty()) {
        int wrong = bad_input;
        const auto moment = moment_argument("--at", options.at, *link, wrong);
        if (!moment) return wrong;
        *query.mutable_moment() = *moment;
    }
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    auto now_ms = link->now_ms();
    if (query.has_moment())
        now_ms = query.moment().at_ms() != 0 ? query.moment().at_ms() : answer.board().at_ms();
    return print(options.common.json
                     ? show::json_text(answer.board())
                     : show::board_text(answer.board(), now_ms, show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_board(Verb& program, Run& run) {
    const auto options = std::make_shared<BoardOptions>();
    auto verb = program.verb("board", "Who holds what, who is on the air, and how they see");
    add_course(verb, options->common);
    verb.value("--at", options->at, "as it was: 14:32, 2026-09-19 14:32, or #120 of the log")
        .type_name("TIME");
    verb.footer(
        "Examples:\n"
        "  fieldpeg board\n"
        "  fieldpeg board --at 14:32");
    verb.callback([options, &run] { run = [options] { return board(*options); }; });
}

}  // namespace fieldpeg::verbs
