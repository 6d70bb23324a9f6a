#include "client/show/guide.h"
#include "client/verbs/guides.h"
#include "client/verbs/program.h"
#include "client/verbs/verb.h"
#include "server/book/names.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <unistd.h>
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <functional>
#include <iostream>
#include <memory>

namespace fieldpeg::verbs {
namespace {

struct HelpOptions {
    std::vector<std::string> of;
};

/// The heading of a guide: what it is.
std::string title_of(std::string_view text) {
    const auto begin = text.find_first_not_of("# ");
    return std::string(text.substr(begin, text.find('\n') - begin));
}

/// On a terminal a page at a time, by the program that its user wants for that.
int show_long(const std::string& text) {
    const char* pager = std::getenv("PAGER");
    if (::isatty(STDOUT_FILENO) == 0) return print(text) ? done : failed;
    const std::string command = pager && *pager ? pager : "less -FRX";
    std::FILE* pages = ::popen((command + " 2>/dev/null").c_str(), "w");
    if (!pages) return print(text) ? done : failed;
    std::fwrite(text.data(), 1, text.size(), pages);
    constexpr int not_found = 127;
    const int ended = ::pclose(pages);
    if (WIFEXITED(ended) && WEXITSTATUS(ended) == not_found) return print(text) ? done : failed;
    return done;
}

int list_topics() {
    std::string text = "Guides: fieldpeg help TOPIC\n";
    for (const auto& guide : guides())
        text += fmt::format("  {:<12} {}\n", guide.topic, title_of(guide.text));
    text += "Verbs: fieldpeg --help names them, fieldpeg VERB --help says what they take.\n";
    return print(text) ? done : failed;
}

int help(const HelpOptions& options, const HelpOfVerb& help_of) {
    if (options.of.empty()) return list_topics();
    const auto& topic = options.of.front();
    const auto guide = std::ranges::find(guides(), topic, &GuideText::topic);
    const auto of_verb = help_of(options.of);
    if (options.of.size() == 1 && guide != guides().end()) {
        std::string text = show::guide_text(guide->text, show::look_of_stdout());
        if (!of_verb.empty())
            text += fmt::format("The verb of that name: fieldpeg {} --help\n", topic);
        return show_long(text);
    }
    if (!of_verb.empty()) return show_long(of_verb);
    std::vector<std::string> known;
    for (const auto& one : guides()) known.emplace_back(one.topic);
    for (const auto& verb : described().verbs) known.push_back(verb.name);
    const auto near = book::nearest(topic, known);
    std::cerr << fmt::format(
        "fieldpeg: '{}' is neither a guide nor a verb{}\n  see: fieldpeg help\n",
        book::printable(fmt::format("{}", fmt::join(options.of, " "))),
        near.empty() ? "" : fmt::format("; did you mean '{}'?", near));
    return bad_input;
}

}  // namespace

void add_help(Verb& program, Run& run, HelpOfVerb help_of) {
    auto verb = program.verb("help", "The guides, to read here; what a verb takes");
    const auto options = std::make_shared<HelpOptions>();
    verb.value("TOPIC", options->of, "a guide, or a verb; none: which guides there are")
        .type_name("TOPIC");
    verb.callback([options, help_of = std::move(help_of), &run] {
        run = [options, help_of] { return help(*options, help_of); };
    });
}

}  // namespace fieldpeg::verbs
