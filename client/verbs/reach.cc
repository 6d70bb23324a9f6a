#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct ReachOptions {
    Common common;
    std::string pilot, at;
    bool on_air = false;
};

int reach(const ReachOptions& options) {
    const auto [link, status] =
        options.at.empty() ? open(options.common) : open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_reach()->set_pilot(options.pilot);
    query.mutable_reach()->set_basis(options.on_air ? v1::Basis::on_air : v1::Basis::held);
    if (!options.at.empty()) {
        int wrong = bad_input;
        const auto moment = moment_argument("--at", options.at, *link, wrong);
        if (!moment) return wrong;
        *query.mutable_moment() = *moment;
    }
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    return print(options.common.json ? show::json_text(answer.reach())
                                     : show::reach_text(answer.reach(), show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_reach(Verb& program, Run& run) {
    const auto options = std::make_shared<ReachOptions>();
    auto verb =
        program.verb("reach", "How far a pilot's picture carries, by bearing and by height");
    verb.value("PILOT", options->pilot, "whose").required();
    add_day(verb, options->common);
    add_as(verb, options->common);
    verb.value("--at", options->at, "as it was: 14:32, 2026-09-19 14:32, or #120 of the log")
        .type_name("TIME");
    add_on_air(verb, options->on_air);
    add_json(verb, options->common);
    verb.footer(
        "Receiver by receiver, with nobody else on the air and with the others: which antenna\n"
        "carries where, and whether climbing with distance helps. Flat open ground is assumed; a\n"
        "hill, trees or people in the way are not in it.\n"
        "Examples:\n"
        "  fieldpeg reach Dee --day saturday.toml\n"
        "  fieldpeg reach Dee --on-air\n"
        "  fieldpeg reach Dee --json");
    verb.callback([options, &run] { run = [options] { return reach(*options); }; });
}

}  // namespace fieldpeg::verbs
