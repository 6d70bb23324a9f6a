#include "client/show/plan.h"
#include "client/show/json.h"
#include "client/verbs/planned.h"

#include <optional>

namespace fieldpeg::verbs {
namespace {

struct PlanOptions {
    Common common;
    PlanFlags flags;
    std::optional<unsigned> moves, group, most;
    std::string like;
};

int room(const PlanOptions& options) {
    v1::Query query;
    auto& ask = *query.mutable_room();
    set_planned(options.flags, ask);
    ask.set_like(options.like);
    if (options.most) ask.set_most(*options.most);
    const auto [link, status] = open(options.common);
    if (!link) return status;
    const auto answer = ask_long(*link, query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const bool printed =
        print(options.common.json ? show::json_text(answer.room())
                                  : show::room_text(answer.room(), show::look_of_stdout()));
    return printed ? done : failed;
}

int plan(const PlanOptions& options) {
    if (!options.like.empty() && (options.flags.apply || options.moves || options.group))
        return say_bad_input("--room",
                             "is a question of its own: without --apply, --moves, --group");
    if (!options.like.empty()) return room(options);
    v1::Query query;
    auto& ask = *query.mutable_plan();
    set_planned(options.flags, ask);
    if (options.moves) ask.set_moves(*options.moves);
    if (options.group) ask.set_group(*options.group);
    const auto [link, status] = open_plan(options.common, options.flags);
    if (!link) return status;
    const auto answer = ask_long(*link, query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.plan();
    // Given out, the command's reply is the JSON on standard output.
    if (!(options.flags.apply && options.common.json) &&
        !print(options.common.json ? show::json_text(reply)
                                   : show::plan_text(reply, show::look_of_stdout())))
        return failed;
    if (options.flags.apply)
        return give_out(*link, {reply.choices().begin(), reply.choices().end()}, options.flags,
                        options.common.json);
    const bool missed = ask.has_margin_db() && !reply.reached();
    return missed || !reply.control().empty() || any_in_trouble(reply.choices()) ? refused : done;
}

}  // namespace

void add_plan(Verb& program, Run& run) {
    const auto options = std::make_shared<PlanOptions>();
    auto verb = program.verb("plan", "The best channels for everybody, and how good any could be");
    add_day(verb, options->common);
    add_as(verb, options->common);
    add_plan_flags(verb, options->flags);
    verb.value("--moves", options->moves,
               "move at most N of those who hold a channel, and as few as will do")
        .type_name("N");
    verb.value("--group", options->group, "only those who hold a channel in this flight group")
        .type_name("N");
    verb.value("--room", options->like, "instead: how many more like this pilot would fit")
        .type_name("PILOT");
    verb.value("--most", options->most, "with --room: look for at most N; default 8")
        .type_name("N");
    add_json(verb, options->common);
    verb.footer(
        "The plan is the one whose worst margin is highest. Whoever radiates is never moved;\n"
        "sightings count. Ctrl-C: enough, the best so far is shown with what is proved of it.\n"
        "Exit status 3: control of an aircraft is at risk, somebody is shaky or in a clash, or "
        "not\n"
        "everybody reaches --margin.\n"
        "Examples:\n"
        "  fieldpeg plan --day saturday.toml\n"
        "  fieldpeg plan --keep Ann,Ben --moves 2 --margin 1\n"
        "  fieldpeg plan --apply\n"
        "  fieldpeg plan --room Ann");
    verb.callback([options, &run] { run = [options] { return plan(*options); }; });
}

}  // namespace fieldpeg::verbs
