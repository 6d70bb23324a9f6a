#include "client/show/day.h"
#include "client/show/json.h"
#include "client/show/times.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>

#include <unistd.h>
#include <algorithm>
#include <iostream>

namespace fieldpeg::verbs {
namespace {

struct WatchOptions {
    Common common;
    bool call = false;
    unsigned changes = 0;
};

/// What is printed of each change.
class Screen {
public:
    Screen(const WatchOptions& options, const link::Link& link)
        : options_(options),
          link_(link),
          self_(link.self()),
          repaints_(::isatty(STDOUT_FILENO) == 1 && !options.call && !options.common.json) {}

    bool take(const v1::Change& change) {
        bool good = true;
        if (options_.common.json)
            good = print(show::json_line(change));
        else if (options_.call)
            for (const auto& sentence : change.call_out()) good = good && print(sentence);
        else if (repaints_)
            good = paint(change);
        else
            good = lines(change);
        ++taken_;
        has_enough_ = !good || taken_ == options_.changes;
        return !has_enough_;
    }
    bool has_enough() const { return has_enough_; }

    void lost(const v1::Refusal& why) {
        missed_some_ = true;
        std::cerr << fmt::format("fieldpeg: {} {}: what is shown is old; trying again\n  {}\n",
                                 why.where(), why.why(), why.next());
    }

private:
    bool paint(const v1::Change& change) {
        std::string all = "\x1b[2J\x1b[H" +
                          show::board_text(change.board(), link_.now_ms(), show::look_of_stdout());
        for (const auto& sentence : change.call_out())
            if (is_for_me(sentence)) all += fmt::format("\n\a!! {}\n", sentence);
        return print(all);
    }

    bool lines(const v1::Change& change) {
        if (taken_ == 0 || missed_some_) {
            missed_some_ = false;
            return print(show::board_text(change.board(), link_.now_ms(), {}));
        }
        bool good = true;
        for (const auto& text : change.happened())
            good = good && print(fmt::format("{} {}{}", show::clock_text(change.board().at_ms()),
                                             is_for_me(text) ? "!! " : "", text));
        // What is only called: a turn, and what one's own transmitter does to others.
        for (const auto& text : change.call_out())
            if (is_for_me(text) &&
                std::ranges::find(change.happened(), text) == change.happened().end())
                good = good && print(fmt::format("{} !! {}",
                                                 show::clock_text(change.board().at_ms()), text));
        return good;
    }

    bool is_for_me(const std::string& sentence) const {
        return !self_.empty() &&
               (sentence.starts_with(self_ + ":") || sentence.starts_with(self_ + ","));
    }

    const WatchOptions& options_;
    const link::Link& link_;
    std::string self_;
    bool repaints_;
    unsigned taken_ = 0;
    bool has_enough_ = false;
    bool missed_some_ =
        false;  ///< since the connection was lost: the whole board says what is so now
};

int watch(const WatchOptions& options) {
    const auto [link, status] = open_course(options.common, Access::read);
    if (!link) return status;
    Screen screen(options, *link);
    link::Link::Watcher watcher;
    watcher.change = [&](const v1::Change& change) { return screen.take(change); };
    watcher.lost = [&](const v1::Refusal& why) { screen.lost(why); };
    watcher.is_patient = options.changes == 0;
    const auto why = link->watch(watcher);
    return screen.has_enough() || why.why().empty() ? done : say_refusal(why);
}

}  // namespace

void add_watch(Verb& program, Run& run) {
    const auto options = std::make_shared<WatchOptions>();
    auto verb = program.verb(
        "watch",
        "The board, live: repainted on a terminal, else a line for each thing that happens");
    add_course(verb, options->common);
    verb.flag("--call", options->call, "only the sentences to call across the field");
    verb.value("--changes", options->changes,
               "stop after N changes; the first is the board as it is")
        .type_name("N");
    verb.footer(
        "A lost connection is said at once and tried again until Ctrl-C; with --changes, a server\n"
        "that lets you in twice and shows nothing is the end.\n"
        "Examples:\n"
        "  fieldpeg watch\n"
        "  fieldpeg watch --call");
    verb.callback([options, &run] { run = [options] { return watch(*options); }; });
}

}  // namespace fieldpeg::verbs
