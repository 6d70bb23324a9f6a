#include "client/verbs/verb.h"

#include "client/link/in_process.h"
#include "server/book/channels.h"
#include "server/book/library.h"

#include <fmt/format.h>

#include <cstdio>
#include <iostream>

namespace fieldpeg::verbs {

void add_day(CLI::App& verb, Common& common) {
    verb.add_option("--day", common.day, "the day file")->type_name("FILE")->capture_default_str();
}

void add_json(CLI::App& verb, Common& common) {
    verb.add_flag("--json", common.json, "print the reply as JSON");
}

void add_on_air(CLI::App& verb, bool& on_air) {
    verb.add_flag("--on-air", on_air,
                  "count only what is on the air or the bench, not what is held");
}

void add_terms(CLI::App& verb, unsigned& terms) {
    verb.add_option("--terms", terms, "contributions a receiver")
        ->type_name("N")
        ->check(CLI::Range(0u, 1000u))
        ->capture_default_str();
}

std::unique_ptr<link::Link> open(const Common& common) {
    book::Problems problems;
    auto link = link::open_day(common.day, problems);
    for (const auto& problem : problems) std::cerr << book::to_string(problem) << '\n';
    if (problems.size() > 1) std::cerr << "fieldpeg: nothing was done\n";
    return link;
}

bool print(std::string_view text) {
    std::fwrite(text.data(), 1, text.size(), stdout);
    if (!text.empty() && text.back() != '\n') std::fputc('\n', stdout);
    if (std::fflush(stdout) == 0 && !std::ferror(stdout)) return true;
    std::cerr << "fieldpeg: the answer could not be written to standard output\n";
    return false;
}

int say_bad_input(std::string_view where, std::string_view why) {
    std::cerr << fmt::format("fieldpeg: {}{}{}\n", where, where.empty() ? "" : ": ", why);
    return bad_input;
}

int say_refusal(const v1::Refusal& refusal) {
    const int status = say_bad_input(refusal.where(), refusal.why());
    if (!refusal.next().empty()) std::cerr << "  " << refusal.next() << '\n';
    return status;
}

std::optional<v1::Channel> channel_argument(std::string_view flag, const std::string& written) {
    std::string why;
    auto channel = book::ChannelNames(book::library().rows()).read(written, why);
    if (!channel) say_bad_input(flag, why);
    return channel;
}

std::optional<double> power_argument(std::string_view flag, const std::string& written) {
    std::string why;
    const auto power = book::read_power_dbm(written, why);
    if (!power) say_bad_input(flag, why);
    return power;
}

}  // namespace fieldpeg::verbs
