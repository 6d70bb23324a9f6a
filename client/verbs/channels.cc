#include "server/book/channels.h"
#include "client/link/in_process.h"
#include "client/show/json.h"
#include "client/show/replies.h"
#include "client/verbs/verb.h"
#include "server/book/library.h"

namespace fieldpeg::verbs {
namespace {

struct ChannelsOptions {
    Common common;
    std::vector<std::string> channels;
    double reach_mhz = 10;
};

int channels(const ChannelsOptions& options) {
    v1::Query query;
    query.mutable_channels()->set_reach_mhz(options.reach_mhz);
    const book::ChannelNames names(book::library().rows());
    for (const auto& written : options.channels) {
        std::string why;
        for (auto& channel : names.read_range(written, why))
            *query.mutable_channels()->add_channels() = channel;
        if (!why.empty()) return say_bad_input("channels", why);
    }
    Opened opened{std::make_unique<link::InProcess>(), done};
    if (!options.common.day.empty()) opened = open(options.common);
    if (!opened.link) return opened.status;
    const auto answer = opened.link->ask(query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.channels();
    return print(options.common.json ? show::json_text(reply)
                                     : show::channels_text(reply, show::look_of_stdout()))
               ? done
               : failed;
}

}  // namespace

void add_channels(Verb& program, Run& run) {
    const auto options = std::make_shared<ChannelsOptions>();
    auto verb = program.verb("channels",
                             "Channel rows and MHz; distances and third-order products of a set");
    verb.value("CHANNEL", options->channels, "a set: R1 R3 5806, or R1-R8");
    verb.value("--reach", options->reach_mhz, "list products this near to a channel")
        .type_name("MHZ")
        .within(0.0, 60.0)
        .shows_default();
    verb.value("--day", options->common.day, "with the remarks of this day's rule set")
        .type_name("FILE");
    add_json(verb, options->common);
    verb.footer(
        "Examples:\n"
        "  fieldpeg channels\n"
        "  fieldpeg channels R1 R3 R6 R8 --reach 20");
    verb.callback([options, &run] { run = [options] { return channels(*options); }; });
}

}  // namespace fieldpeg::verbs
