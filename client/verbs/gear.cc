#include "client/link/in_process.h"
#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct Options {
    Common common;
    std::string name;
};

int gear(const Options& options) {
    Opened opened{std::make_unique<link::InProcess>(), done};
    if (!options.common.day.empty()) opened = open(options.common);
    if (!opened.link) return opened.status;
    v1::Query query;
    query.mutable_gear()->set_name(options.name);
    const auto answer = opened.link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& library = answer.gear().library();
    const auto look = show::look_of_stdout();
    const auto text = options.common.json    ? show::json_text(answer.gear())
                      : options.name.empty() ? show::gear_list_text(library, look)
                                             : show::gear_text(library, look);
    return print(text) ? done : failed;
}

}  // namespace

void add_gear(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("gear", "The gear library and where its values come from");
    verb.value("NAME", options->name, "one of it, with every value's source");
    verb.value("--day", options->common.day, "with the gear that this day file uses")
        .type_name("FILE");
    add_json(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg gear\n"
        "  fieldpeg gear fm-video-5g8\n"
        "  fieldpeg gear cept-25mw");
    verb.callback([options, &run] { run = [options] { return gear(*options); }; });
}

}  // namespace fieldpeg::verbs
