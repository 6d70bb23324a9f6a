#include "client/show/day.h"
#include "client/show/table.h"
#include "server/day/differences.h"

#include <fmt/format.h>

namespace fieldpeg::show {

std::string take_text(const v1::TakeReply& reply, const Look& look) {
    if (reply.differences().empty()) return "The file says nothing else than the day.\n";
    auto all = heading(reply.taken() ? "Taken over" : "What the file has otherwise", look);
    for (const auto& of : reply.differences()) all += item("  ", day::difference_text(of), look);
    if (reply.follows().empty()) return all;
    all += "\n" + heading("What follows", look);
    for (const auto& text : reply.follows()) all += item("  ", text, look);
    return all;
}

}  // namespace fieldpeg::show
