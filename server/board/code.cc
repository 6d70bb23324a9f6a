#include "server/board/code.h"

#include "server/wire/ticket.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>

namespace fieldpeg::board {

std::string code_picture(std::string_view text) {
    constexpr std::size_t quiet = 4;  // modules around it [ISO.18004, quiet zone]
    const auto rows = wire::qr_rows(text);
    if (rows.empty()) return "";
    std::string dark;
    for (std::size_t y = 0; y < rows.size(); ++y) {
        for (auto x = rows[y].find('1'); x != std::string::npos;) {
            const auto end = std::min(rows[y].find('0', x), rows[y].size());
            dark += fmt::format("M{} {}h{}v1h-{}z", x + quiet, y + quiet, end - x, end - x);
            x = rows[y].find('1', end);
        }
    }
    const auto size = rows.size() + 2 * quiet;
    return fmt::format(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {0}\" "
        "shape-rendering=\"crispEdges\"><path fill=\"#fff\" d=\"M0 0h{0}v{0}h-{0}z\"/>"
        "<path d=\"{1}\"/></svg>\n",
        size, dark);
}

}  // namespace fieldpeg::board
