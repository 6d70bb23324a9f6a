#include "client/verbs/described.h"

#include <CLI/CLI.hpp>

#include <algorithm>
#include <regex>
#include <sstream>

namespace fieldpeg::verbs {
namespace {

/// As the library writes a check of words: "{page,csv}".
std::vector<std::string> words_of(const std::string& check) {
    std::vector<std::string> words;
    const auto begin = check.find('{'), end = check.rfind('}');
    if (begin == std::string::npos || end == std::string::npos) return words;
    std::istringstream all(check.substr(begin + 1, end - begin - 1));
    for (std::string word; std::getline(all, word, ',');) words.push_back(word);
    return words;
}

Flag described(const CLI::Option& option, bool by_place) {
    Flag flag;
    flag.by_place = by_place;
    if (flag.by_place) {
        flag.names.push_back(option.get_name(true));
    } else {
        for (const auto& name : option.get_snames()) flag.names.push_back("-" + name);
        for (const auto& name : option.get_lnames()) flag.names.push_back("--" + name);
    }
    flag.choices = words_of(option.get_type_name());
    const bool has_value = option.get_items_expected_max() != 0;
    static const std::regex check(R"(:(\{|[A-Z]+ in ).*)");  // what the library writes behind it
    if (has_value) flag.value = std::regex_replace(option.get_type_name(), check, "");
    flag.what = option.get_description();
    flag.is_required = option.get_required();
    flag.is_many = option.get_items_expected_max() > 1;
    return flag;
}

}  // namespace

const Program* Program::verb(const std::string& called) const {
    const auto found = std::ranges::find(verbs, called, &Program::name);
    return found == verbs.end() ? nullptr : &*found;
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as verbs nest
Program described(const CLI::App& app) {
    Program program{app.get_name(), app.get_description(), app.get_footer(), {}, {}};
    for (const auto* option : app.get_options()) {
        if (option->get_group().empty()) continue;
        const bool is_named = !option->get_lnames().empty() || !option->get_snames().empty();
        if (is_named) program.flags.push_back(described(*option, false));
        if (option->get_positional()) program.flags.push_back(described(*option, true));
    }
    for (const auto* verb : app.get_subcommands({}))
        if (!verb->get_group().empty()) program.verbs.push_back(described(*verb));
    return program;
}

}  // namespace fieldpeg::verbs
