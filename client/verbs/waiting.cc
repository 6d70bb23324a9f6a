#include "client/show/plan.h"
#include "client/verbs/verb.h"

#include <unistd.h>

#include <csignal>
#include <iostream>

namespace fieldpeg::verbs {
namespace {

volatile std::sig_atomic_t interrupted = 0;

/// Ctrl-C once: enough. Again: the usual.
extern "C" void interrupt(int) {
    interrupted = 1;
    std::signal(SIGINT, SIG_DFL);
}

constexpr std::string_view clear_line = "\r\033[K";

}  // namespace

v1::Answer ask_long(link::Link& link, const v1::Query& query) {
    const bool shown = isatty(STDERR_FILENO) != 0;
    interrupted = 0;
    const auto before = std::signal(SIGINT, interrupt);
    auto answer = link.ask_long(query, [&](const v1::Progress& so_far) {
        if (shown && so_far.seconds() >= 1)
            std::cerr << clear_line << show::progress_text(so_far, show::look_of_stderr().width)
                      << std::flush;
        return interrupted == 0;
    });
    std::signal(SIGINT, before);
    if (shown) std::cerr << clear_line << std::flush;
    return answer;
}

}  // namespace fieldpeg::verbs
