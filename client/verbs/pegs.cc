#include "client/show/pegs.h"
#include "client/verbs/pages.h"
#include "client/verbs/verb.h"

#include <string>

namespace fieldpeg::verbs {
namespace {

struct PegsOptions {
    Common common;
    std::string out;
    std::string form = "html";
    bool force = false;
};

int pegs(const PegsOptions& options) {
    if (options.form == "html" && options.out.empty())
        return say_refusal(Refusal{Refusal::Kind::malformed, "--out",
                                   "is missing: pegs are a page to be printed",
                                   "fieldpeg pegs --out pegs.html; lines for a chat: --form text"});
    const auto [link, status] = open(options.common);
    if (!link) return status;
    v1::Query query;
    query.mutable_day();
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& sheet = answer.day().sheet();
    if (sheet.pilots().empty() && sheet.relays().empty())
        return say_refusal(
            Refusal{Refusal::Kind::not_found, "pegs", "nobody is on this day yet",
                    "add a [[pilot]] to the file, or enter one: fieldpeg pilot add"});
    const auto text = options.form == "csv"    ? show::pegs_csv(sheet)
                      : options.form == "text" ? show::pegs_text(sheet)
                                               : show::pegs_html(sheet);
    if (options.out.empty()) return print(text) ? done : failed;
    return write_page(options.out, text, options.force);
}

}  // namespace

void add_pegs(Verb& program, Run& run) {
    const auto options = std::make_shared<PegsOptions>();
    auto verb = program.verb(
        "pegs", "The evening before: pegs to cut out, the roster on one sheet, lines for a chat");
    verb.value("--out", options->out, "into this file").type_name("FILE");
    verb.value("--form", options->form, "html, a page to print; csv; text, a line for everybody")
        .type_name("FORM")
        .one_of({"html", "csv", "text"});
    verb.flag("--force", options->force, "over another day's pegs, or another page of Fieldpeg's");
    add_day(verb, options->common);
    add_as(verb, options->common);
    verb.footer(
        "A file that is there is written over only by a page of the same kind and day.\n"
        "Examples:\n"
        "  fieldpeg pegs --day saturday.toml --out pegs.html\n"
        "  fieldpeg pegs --form text\n"
        "  fieldpeg pegs --form csv > roster.csv");
    verb.callback([options, &run] { run = [options] { return pegs(*options); }; });
}

}  // namespace fieldpeg::verbs
