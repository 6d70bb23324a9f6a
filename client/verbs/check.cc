#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"
#include "server/day/trial.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    bool on_air = false;
    unsigned contributions = 5;
};

int check(const Options& options) {
    const auto [link, status] = open(options.common);
    if (!link) return status;
    v1::Query query;
    query.mutable_check()->set_basis(options.on_air ? v1::Basis::on_air : v1::Basis::held);
    query.mutable_check()->set_contributions(options.contributions);
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.check();
    if (!print(options.common.json ? show::json_text(reply)
                                   : show::check_text(reply, show::look_of_stdout())))
        return failed;
    // Of several receivers the best picture is shown: pilots count, not each receiver.
    return std::ranges::any_of(reply.pilots(), day::in_trouble, &v1::PilotResult::verdict) ? refused
                                                                                           : done;
}

}  // namespace

void add_check(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("check", "Everybody's margin, verdict and picture");
    verb.value("FILE,--day", options->common.day,
               "a day file; without it the server that was joined, else day.toml")
        .type_name("FILE");
    add_as(verb, options->common);
    add_on_air(verb, options->on_air);
    add_terms(verb, options->contributions);
    add_json(verb, options->common);
    verb.footer(
        "Exit status 3: control of an aircraft is at risk, or a pilot is shaky or in a clash.\n"
        "Examples:\n"
        "  fieldpeg check --day saturday.toml\n"
        "  fieldpeg check --day saturday.toml --on-air --json");
    verb.callback([options, &run] { run = [options] { return check(*options); }; });
}

}  // namespace fieldpeg::verbs
