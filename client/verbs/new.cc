#include "client/show/times.h"
#include "client/verbs/verb.h"
#include "server/book/embedded.h"
#include "server/book/names.h"
#include "server/book/writer.h"

#include <fmt/format.h>

#include <cerrno>
#include <chrono>
#include <cstdio>
#include <cstring>
#include <iostream>
#include <memory>

namespace fieldpeg::verbs {
namespace {

struct Options {
    std::string file = "day.toml";
    std::string name = "Flying day";
    std::string date;
};

std::string today() {
    using namespace std::chrono;
    const auto now = system_clock::now().time_since_epoch();
    return show::date_text(duration_cast<milliseconds>(now).count());
}

bool is_date(const std::string& written) {
    int year = 0, end = 0;
    unsigned month = 0, day = 0;
    if (std::sscanf(written.c_str(), "%4d-%2u-%2u%n", &year, &month, &day, &end) != 3) return false;
    const std::chrono::year_month_day date{std::chrono::year(year), std::chrono::month(month),
                                           std::chrono::day(day)};
    return date.ok() && written == fmt::format("{:04}-{:02}-{:02}", year, month, day);
}

void replace(std::string& text, std::string_view mark, const std::string& with) {
    text.replace(text.find(mark), mark.size(), with);
}

int write_new(const Options& options) {
    std::string why;
    const auto name = book::proper_name(options.name, why);
    if (!name)
        return say_bad_input("--name", fmt::format("'{}' {}", book::printable(options.name), why));
    const auto date = options.date.empty() ? today() : options.date;
    if (!is_date(date))
        return say_bad_input(
            "--date", fmt::format("'{}' is no date: write 2026-09-19", book::printable(date)));
    std::string text(book::embedded_file("new_day.toml"));
    replace(text, "@DATE@", date);
    replace(text, "@NAME@", book::toml_of(*name).value());
    if (options.file == "-") return print(text) ? done : failed;

    // Made only if it is not there: nobody's day is ever written over.
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(
        std::fopen(options.file.c_str(), "wx"), &std::fclose);
    if (!file) {
        std::cerr << fmt::format("fieldpeg: {}: cannot be written: {}\n  name another file\n",
                                 options.file, std::strerror(errno));
        return failed;
    }
    if (std::fwrite(text.data(), 1, text.size(), file.get()) != text.size() ||
        std::fflush(file.get()) != 0) {
        std::cerr << fmt::format("fieldpeg: {}: could not be written in full\n", options.file);
        return failed;
    }
    std::cerr << fmt::format("{} written. Edit it, then: fieldpeg check --day {}\n", options.file,
                             options.file);
    return done;
}

}  // namespace

void add_new(Verb& program, Run& run) {
    const auto options = std::make_shared<Options>();
    auto verb = program.verb("new", "Write a commented day file to edit");
    verb.value("FILE", options->file, "where to; - is standard output").shows_default();
    verb.value("--name", options->name, "what the day is called").shows_default();
    verb.value("--date", options->date, "the day, as 2026-09-19; today if not given");
    verb.footer(
        "An existing file is never written over.\n"
        "Examples:\n"
        "  fieldpeg new saturday.toml --name \"Harvest fly-in\" --date 2026-09-19");
    verb.callback([options, &run] { run = [options] { return write_new(*options); }; });
}

}  // namespace fieldpeg::verbs
