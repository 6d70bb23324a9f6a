// Whatever is put into a running day as TOML: gear, kits, pilots. Either a list of problems, each
// with something to say, or parts that are within the bounds of a day.

#include "server/book/day_file.h"
#include "server/book/kits.h"
#include "server/book/parts.h"
#include "server/book/reader.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <cstdint>
#include <cstdlib>
#include <string_view>

namespace {

void require(bool holds) {
    if (!holds) std::abort();
}

const fieldpeg::v1::DaySheet& day() {
    static const auto sheet = fieldpeg::testing::sheet_of(fieldpeg::testing::club_day());
    return sheet;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace fieldpeg;
    book::Problems problems;
    const auto parts =
        book::read_parts({reinterpret_cast<const char*>(data), size}, "", day(), problems);
    require(parts.has_value() == problems.empty());
    require(problems.size() <= book::problems_max + 1);  // and that there are more
    for (const auto& problem : problems) require(!book::to_string(problem).empty());
    if (!parts) return 0;
    require(static_cast<std::size_t>(parts->sheet.pilots_size()) <= book::pilots_max);
    require(static_cast<std::size_t>(parts->sheet.kits_size()) <= book::kits_max);
    return 0;
}
