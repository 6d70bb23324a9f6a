#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"

namespace fieldpeg::verbs {
namespace {

struct FindOptions {
    Common common;
    std::string who;
    bool walk = false;
    bool back = false;
};

int walk(const FindOptions& options) {
    v1::Command command;
    command.mutable_walk()->set_transmitter(options.who);
    command.mutable_walk()->set_is_back(options.back);
    return tell_and_print(options.common, command);
}

int find(const FindOptions& options) {
    if (options.walk || options.back) return walk(options);
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    v1::Query query;
    query.mutable_find()->set_transmitter(options.who);
    const auto answer = link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    return print(options.common.json ? show::json_text(answer.find())
                                     : show::find_text(answer.find(), show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_find(Verb& program, Run& run) {
    const auto options = std::make_shared<FindOptions>();
    auto verb = program.verb(
        "find", "Who has to be silent so that one that is down is heard by its own receiver");
    verb.value("NAME", options->who, "who is down").required();
    const auto walk =
        verb.flag("--walk", options->walk, "somebody walks out: nobody switches on to fly there");
    verb.flag("--back", options->back, "they are back on the line").excludes(walk);
    add_course(verb, options->common);
    verb.footer(
        "The transmitter is taken to lie on the ground in its area, with the receiver carried in "
        "the\n"
        "middle of it. A battery that is empty, or a broken antenna, is not heard however silent\n"
        "everybody is.\n"
        "Examples:\n"
        "  fieldpeg find Mika\n"
        "  fieldpeg find Mika --walk\n"
        "  fieldpeg find Mika --back");
    verb.callback([options, &run] { run = [options] { return find(*options); }; });
}

}  // namespace fieldpeg::verbs
