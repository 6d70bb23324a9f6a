#include "server/book/empty_day.h"

#include "server/book/day_file.h"
#include "server/book/embedded.h"
#include "server/book/names.h"
#include "server/book/writer.h"

#include <boost/assert.hpp>

#include <filesystem>
#include <string_view>
#include <utility>

namespace fieldpeg::book {
namespace {

constexpr auto usual_stem = "day";

std::string name_of(const std::string& file) {
    const auto stem = std::filesystem::path(file).stem().string();
    std::string why;
    auto name = proper_name(stem, why);
    return name && *name != usual_stem ? *std::move(name) : "A flying day";
}

void replace(std::string& text, std::string_view mark, const std::string& with) {
    text.replace(text.find(mark), mark.size(), with);
}

}  // namespace

v1::DaySheet empty_day(const std::string& file, const std::string& date) {
    std::string text(embedded_file("empty_day.toml"));
    replace(text, "@NAME@", toml_of(name_of(file)).value());
    replace(text, "@DATE@", date);
    Problems problems;
    auto sheet = read_day(text, "empty_day.toml", problems);
    BOOST_ASSERT(sheet);
    return *std::move(sheet);
}

}  // namespace fieldpeg::book
