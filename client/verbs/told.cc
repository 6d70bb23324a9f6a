#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <charconv>
#include <optional>
#include <string>
#include <vector>

namespace fieldpeg::verbs {
namespace {

struct ToldOptions {
    Common common;
    std::vector<std::string> numbers;
};

std::optional<std::uint64_t> number_of(const std::string& written) {
    std::uint64_t number = 0;
    const auto* end = written.data() + written.size();
    const auto read = std::from_chars(written.data(), end, number);
    return read.ec == std::errc() && read.ptr == end ? std::optional(number) : std::nullopt;
}

int told(const ToldOptions& options) {
    for (const auto& written : options.numbers) {
        v1::Command command;
        auto& ask = *command.mutable_acknowledge_warning();
        ask.set_all(written == "all");
        if (!ask.all()) {
            const auto number = number_of(written);
            if (!number)
                return say_bad_input("NUMBER", fmt::format("'{}' is no number of a warning: 17, or "
                                                           "all",
                                                           written));
            ask.set_warning(*number);
        }
        const int status = tell_and_print(options.common, command);
        if (status != done) return status;
    }
    return done;
}

}  // namespace

void add_told(Verb& program, Run& run) {
    const auto options = std::make_shared<ToldOptions>();
    auto verb = program.verb("told", "The marshal has called a warning out: it leaves the board");
    verb.value("NUMBER", options->numbers, "as the board shows it after the sentence, or 'all'")
        .required();
    add_course(verb, options->common);
    verb.footer(
        "A warning also leaves the board when what caused it is switched off.\n"
        "Examples:\n"
        "  fieldpeg told 17 18\n"
        "  fieldpeg told all");
    verb.callback([options, &run] { run = [options] { return told(*options); }; });
}

}  // namespace fieldpeg::verbs
