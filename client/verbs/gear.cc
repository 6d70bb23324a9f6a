#include "client/link/in_process.h"
#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

namespace fieldpeg::verbs {
namespace {

struct GearOptions {
    Common common;
    std::string name;
};

/// What there is by name, of the library or of a day too.
int gear(const GearOptions& options, bool kits) {
    Opened opened{std::make_unique<link::InProcess>(), done};
    if (!options.common.day.empty()) opened = open(options.common);
    if (!opened.link) return opened.status;
    v1::Query query;
    query.mutable_gear()->set_name(options.name);
    const auto answer = opened.link->ask(query);
    const auto& library = answer.gear().library();
    if (kits && library.kits().empty())
        return say_bad_input(
            "kits", fmt::format("'{}' is no kit; 'fieldpeg kits' names them", options.name));
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto look = show::look_of_stdout();
    const auto text = options.common.json    ? show::json_text(answer.gear())
                      : kits                 ? show::kits_text(library, look)
                      : options.name.empty() ? show::gear_list_text(library, look)
                                             : show::gear_text(library, look);
    return print(text) ? done : failed;
}

}  // namespace

void add_gear(Verb& program, Run& run) {
    const auto options = std::make_shared<GearOptions>();
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
    add_measure(verb, run);
    verb.callback([options, &run] {  // called after that of a verb below it
        if (!run) run = [options] { return gear(*options, false); };
    });
}

void add_kits(Verb& program, Run& run) {
    const auto options = std::make_shared<GearOptions>();
    auto verb = program.verb("kits", "Gear by its look: one name for what is met together");
    verb.value("NAME", options->name, "one of them, with all it brings");
    verb.value("--day", options->common.day, "with the kits of this day file").type_name("FILE");
    add_json(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg kits\n"
        "  fieldpeg kits usual-quad\n"
        "  fieldpeg pilot add Gil --kit usual-quad");
    verb.callback([options, &run] { run = [options] { return gear(*options, true); }; });
}

}  // namespace fieldpeg::verbs
