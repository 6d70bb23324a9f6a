#include "server/service/empty_day.h"

#include "server/book/empty_day.h"
#include "server/book/names.h"

#include <fmt/format.h>

#include <array>
#include <cstddef>
#include <ctime>
#include <filesystem>
#include <string>
#include <system_error>
#include <vector>

namespace fieldpeg::service {
namespace {

namespace fs = std::filesystem;

/// As the clock on the wall has it.
std::string date_here(std::int64_t now_ms) {
    const std::time_t now = now_ms / 1000;
    std::tm parts{};
    ::localtime_r(&now, &parts);
    std::array<char, 11> text{};  // 2026-09-19
    return {text.data(), std::strftime(text.data(), text.size(), "%Y-%m-%d", &parts)};
}

/// The day beside it whose name is nearest; empty if none is near.
std::string nearest_day(const fs::path& file) {
    constexpr std::size_t looked_at_max = 1000;
    const auto folder = file.has_parent_path() ? file.parent_path() : fs::path(".");
    std::vector<std::string> days;
    std::error_code error;
    for (fs::directory_iterator at(folder, error), end; !error && at != end; at.increment(error)) {
        if (days.size() == looked_at_max) break;
        auto path = at->path();
        if (path.extension() == ".daylog") path.replace_extension(".toml");
        if (path.extension() == ".toml") days.push_back(path.filename().string());
    }
    return book::nearest(file.filename().string(), days);
}

bool is_there(const std::string& path) {
    std::error_code error;
    return fs::exists(path, error) || error;  // what is wrong with it is said by whoever reads it
}

}  // namespace

Result<std::optional<v1::DaySheet>> day_if_unwritten(const DayFiles& files, Unwritten unwritten,
                                                     std::int64_t now_ms) {
    if (is_there(files.sheet) || is_there(files.log)) return std::optional<v1::DaySheet>();
    if (unwritten == Unwritten::begins)
        return std::optional(book::empty_day(files.sheet, date_here(now_ms)));
    const auto near = nearest_day(files.sheet);
    return Refusal{Refusal::Kind::not_found, files.sheet, "there is no such day file, and no log",
                   near.empty() ? fmt::format("to begin an empty day of this name: --day {} --new",
                                              files.sheet)
                                : fmt::format("did you mean '{}'? To begin an empty day of this "
                                              "name: --day {} --new",
                                              near, files.sheet)};
}

}  // namespace fieldpeg::service
