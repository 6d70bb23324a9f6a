#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/verb.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
};

bool is_there(const v1::BoardRow& row) {
    return row.stage() == v1::Claim::on_air || row.stage() == v1::Claim::told_on ||
           row.stage() == v1::Claim::bench || row.stage() == v1::Claim::down;
}

int day_end(const Options& options) {
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_board();
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& board = answer.board();
    const auto text = options.common.json
                          ? show::json_text(board)
                          : show::day_end_text(board, link->now_ms(), show::look_of_stdout());
    if (!print(text)) return failed;
    return std::ranges::any_of(board.rows(), is_there) ? refused : done;
}

}  // namespace

void add_day_end(Verb& day, Run& run) {
    const auto options = std::make_shared<Options>();
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
