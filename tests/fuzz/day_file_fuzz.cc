// Whatever is fed to the day file's reader: either a list of problems, each with something to say,
// or a sheet that can be assessed and comes to finite numbers.

#include "server/book/day_file.h"
#include "server/day/check.h"

#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <string_view>

namespace {

void require(bool holds) {
    if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace fieldpeg;
    book::Problems problems;
    const auto sheet =
        book::read_day({reinterpret_cast<const char*>(data), size}, "fuzz.toml", problems);
    require(sheet.has_value() == problems.empty());
    for (const auto& problem : problems) require(!problem.what.empty());
    if (!sheet) return 0;
    constexpr int small = 12;  // a crowd takes long and teaches nothing more
    if (sheet->pilots_size() > small || sheet->relays_size() > small) return 0;
    const auto reply = day::check(*sheet, v1::Basis::held, 3);
    for (const auto& r : reply.receivers())
        require(!r.has_margin_ref_db() ||
                (std::isfinite(r.margin_ref_db()) && std::isfinite(r.margin_worst_db())));
    return 0;
}
