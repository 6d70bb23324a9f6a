#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"
#include "server/day/trial.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

struct CheckOptions {
    Common common;
    bool on_air = false;
    Groups groups;
    unsigned contributions = 5;
    bool all_terms = false;
};

int check(const CheckOptions& options) {
    const auto [link, status] = open(options.common);
    if (!link) return status;
    v1::Query query;
    query.mutable_check()->set_basis(options.on_air ? v1::Basis::on_air : v1::Basis::held);
    query.mutable_check()->set_contributions(options.contributions);
    set_groups(options.groups, *query.mutable_check());
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.check();
    const auto look = show::look_of_stdout();
    const bool in_short = look.width != 0 && !options.all_terms;
    if (!print(options.common.json ? show::json_text(reply)
                                   : show::check_text(reply, look, in_short)))
        return failed;
    // Of several receivers the best picture is shown: pilots count, not each receiver.
    return std::ranges::any_of(reply.pilots(), day::in_trouble, &v1::PilotResult::verdict) ? refused
                                                                                           : done;
}

}  // namespace

void add_check(Verb& program, Run& run) {
    const auto options = std::make_shared<CheckOptions>();
    auto verb = program.verb("check", "Everybody's margin, verdict and picture");
    verb.value("FILE,--day", options->common.day,
               "a day file, with its log once that has begun; without it the server that was "
               "joined, else day.toml")
        .type_name("FILE");
    verb.flag("--as-written", options->common.as_written,
              "the day file alone, whatever its log says");
    add_as(verb, options->common);
    add_on_air(verb, options->on_air);
    add_groups(verb, options->groups);
    add_terms(verb, options->contributions);
    verb.flag("--all-terms", options->all_terms,
              "on a terminal too: each receiver, the dial, and what arrives");
    add_json(verb, options->common);
    verb.footer(
        "On a day with flight groups each pilot is looked at as their group flies; who has none, "
        "with\n"
        "each of them in turn: the worst counts.\n"
        "Exit status 3: control of an aircraft is at risk, or a pilot is shaky or in a clash.\n"
        "Examples:\n"
        "  fieldpeg check --day saturday.toml\n"
        "  fieldpeg check --day saturday.toml --on-air --json");
    verb.callback([options, &run] { run = [options] { return check(*options); }; });
}

}  // namespace fieldpeg::verbs
