#include "client/show/times.h"
#include "client/verbs/files.h"
#include "client/verbs/parts.h"
#include "client/verbs/verb.h"
#include "server/book/embedded.h"
#include "server/book/names.h"
#include "server/book/writer.h"

#include <fmt/format.h>

#include <chrono>
#include <iostream>
#include <memory>

namespace fieldpeg::verbs {
namespace {

constexpr mode_t mode_of_a_day = 0666;  ///< of which the user's own mask takes away

struct NewOptions {
    std::string file = "day.toml";
    std::string name = "Flying day";
    std::string date;
};

std::string today() {
    using namespace std::chrono;
    const auto now = system_clock::now().time_since_epoch();
    return show::date_text(duration_cast<milliseconds>(now).count());
}

void replace(std::string& text, std::string_view mark, const std::string& with) {
    text.replace(text.find(mark), mark.size(), with);
}

int write_new(const NewOptions& options) {
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
    auto file = NewFile::make(options.file, mode_of_a_day);
    if (!file) return say_refusal(file.error());
    if (const auto filled = file->fill(text); !filled) return say_refusal(filled.error());
    std::cerr << fmt::format("{} written. Edit it, then: fieldpeg check --day {}\n", options.file,
                             options.file);
    return done;
}

}  // namespace

void add_new(Verb& program, Run& run) {
    const auto options = std::make_shared<NewOptions>();
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
