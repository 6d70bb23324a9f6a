#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string pilot;
    bool on_air = false;
    unsigned contributions = 12;
};

int explain(const Options& options) {
    const auto link = open(options.common);
    if (!link) return bad_input;
    v1::Query query;
    auto* ask = query.mutable_explain();
    ask->set_pilot(options.pilot);
    ask->set_basis(options.on_air ? v1::Basis::on_air : v1::Basis::held);
    ask->set_contributions(options.contributions);
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.explain();
    return print(options.common.json ? show::json_text(reply)
                                     : show::explain_text(reply, show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_explain(CLI::App& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto* verb = program.add_subcommand("explain", "Why one pilot's margin is what it is");
    verb->add_option("PILOT", options->pilot, "whose")->required();
    add_day(*verb, options->common);
    add_on_air(*verb, options->on_air);
    add_terms(*verb, options->contributions);
    add_json(*verb, options->common);
    verb->footer("Examples:\n"
                 "  fieldpeg explain Ann --day saturday.toml\n"
                 "  fieldpeg explain Ann --terms 50 --json");
    verb->callback([options, &run] { run = [options] { return explain(*options); }; });
}

}  // namespace fieldpeg::verbs
