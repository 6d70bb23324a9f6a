#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct ExplainOptions {
    Common common;
    std::string pilot;
    std::string at;
    bool on_air = false;
    bool held = false;
    Groups groups;
    unsigned contributions = 12;
};

int explain(const ExplainOptions& options) {
    const auto [link, status] =
        options.at.empty() ? open(options.common) : open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    auto* ask = query.mutable_explain();
    ask->set_pilot(options.pilot);
    // A day file says what is meant to be, a server and its log what is.
    const bool is_live = !options.at.empty() || !link->self().empty();
    const bool on_air = options.on_air || (is_live && !options.held);
    ask->set_basis(on_air ? v1::Basis::on_air : v1::Basis::held);
    if (!options.at.empty()) {
        int wrong = bad_input;
        const auto moment = moment_argument("--at", options.at, *link, wrong);
        if (!moment) return wrong;
        *query.mutable_moment() = *moment;
    }
    ask->set_contributions(options.contributions);
    set_groups(options.groups, *ask);
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.explain();
    return print(options.common.json ? show::json_text(reply)
                                     : show::explain_text(reply, show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_explain(Verb& program, Run& run) {
    const auto options = std::make_shared<ExplainOptions>();
    auto verb = program.verb("explain", "Why one pilot's margin is what it is");
    verb.value("PILOT", options->pilot, "whose").required();
    add_day(verb, options->common);
    add_as(verb, options->common);
    verb.value("--at", options->at, "as it was: 14:32, 2026-09-19 14:32, or #120 of the log")
        .type_name("TIME");
    add_on_air(verb, options->on_air);
    verb.flag("--held", options->held,
              "count everything that is held; the default with a day file");
    add_groups(verb, options->groups);
    add_terms(verb, options->contributions);
    add_json(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg explain Ann --day saturday.toml\n"
        "  fieldpeg explain Ann --at 14:32\n"
        "  fieldpeg explain Ann --terms 50 --json");
    verb.callback([options, &run] { run = [options] { return explain(*options); }; });
}

}  // namespace fieldpeg::verbs
