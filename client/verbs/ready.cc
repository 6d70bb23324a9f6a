#include "client/show/day.h"
#include "client/show/json.h"
#include "client/verbs/verb.h"

#include <algorithm>

namespace fieldpeg::verbs {
namespace {

int ready(const Common& common) {
    const auto [link, status] = open_course(common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_ready();
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    if (!print(common.json ? show::json_text(answer.ready())
                           : show::ready_text(answer.ready(), show::look_of_stdout())))
        return failed;
    return std::ranges::all_of(answer.ready().checks(), &v1::ReadyReply::Check::good) ? done
                                                                                      : failed;
}

}  // namespace

void add_ready(Verb& program, Run& run) {
    const auto options = std::make_shared<Common>();
    auto verb = program.verb(
        "ready", "Before the day begins: clock, address, certificate, disk, log, and what to mind");
    add_course(verb, *options);
    verb.footer(
        "Exit status 1: something wants a look.\n"
        "Example:\n"
        "  fieldpeg ready");
    verb.callback([options, &run] { run = [options] { return ready(*options); }; });
}

}  // namespace fieldpeg::verbs
