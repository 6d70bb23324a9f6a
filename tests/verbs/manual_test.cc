#include "client/verbs/manual.h"

#include "client/verbs/guides.h"
#include "client/verbs/program.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <fstream>
#include <functional>
#include <regex>
#include <sstream>
#include <string>
#include <vector>

/// Help, manual page, completion and guides tell of one command line.
namespace fieldpeg::verbs {
namespace {

std::string without_roff(std::string text) {
    text = std::regex_replace(text, std::regex(R"(\\f[BIR]|\\&)"), "");
    return std::regex_replace(text, std::regex(R"(\\-)"), "-");
}

/// Each verb with the words that lead to it.
void each_verb(const Program& at, const std::string& path,
               const std::function<void(const Program&, const std::string&)>& take) {
    for (const auto& verb : at.verbs) {
        take(verb, path + verb.name);
        each_verb(verb, path + verb.name + " ", take);
    }
}

TEST(Manual, NamesEachVerbAndEachOfItsFlags) {
    const auto program = described();
    const auto page = without_roff(manual_page(program, {"1", "", "", "", "", "", ""}));
    int flags = 0;
    each_verb(program, "", [&](const Program& verb, const std::string& path) {
        const auto begin = page.find("\n.SS " + path + "\n");
        ASSERT_NE(begin, std::string::npos) << path;
        const auto part = page.substr(begin, page.find("\n.SS ", begin + 1) - begin);
        EXPECT_NE(part.find(verb.what), std::string::npos) << path;
        for (const auto& flag : verb.flags) {
            if (flag.names.back() == "--help") continue;
            for (const auto& name : flag.names)
                EXPECT_NE(part.find(name), std::string::npos) << path << " " << name;
            ++flags;
        }
    });
    EXPECT_GT(flags, 200);
}

// Whatever a guide has somebody type is there: the verb, and each flag of it.
TEST(Guides, NameNoVerbAndNoFlagThatIsNotThere) {
    const auto program = described();
    const std::regex call(R"((?:^|[`'( ])fieldpeg ((?:[a-z-]+ ?)+)([^`'|#\n]*))");
    const std::regex flag(R"((?:^|[ \[])(--[a-z][a-z-]*))");
    int calls = 0;
    for (const auto& guide : guides()) {
        std::istringstream lines{std::string(guide.text)};
        for (std::string line; std::getline(lines, line);)
            for (std::sregex_iterator at(line.begin(), line.end(), call), end; at != end; ++at) {
                std::istringstream words((*at)[1]);
                const auto* verb = &program;
                for (std::string word; words >> word;) {
                    const auto* next = verb->verb(word);
                    if (!next) break;
                    verb = next;
                }
                if (verb == &program) continue;  // "fieldpeg and": no call
                ++calls;
                const std::string rest = (*at)[2];
                for (std::sregex_iterator f(rest.begin(), rest.end(), flag); f != end; ++f) {
                    const std::string name = (*f)[1];
                    const auto has = [&](const Program& of) {
                        return std::ranges::any_of(of.flags, [&](const Flag& one) {
                            return std::ranges::find(one.names, name) != one.names.end();
                        });
                    };
                    EXPECT_TRUE(has(*verb) || has(program)) << guide.topic << ": " << line;
                }
            }
    }
    EXPECT_GT(calls, 100);
}

TEST(Guides, TellOfEachVerb) {
    std::string all;
    for (const auto& guide : guides()) all += guide.text;
    std::ifstream readme(std::string(FIELDPEG_SOURCE_DIR) + "/README.md");
    std::ostringstream text;
    text << readme.rdbuf();
    all += text.str();
    each_verb(described(), "", [&](const Program& verb, const std::string& path) {
        if (!verb.verbs.empty()) return;
        EXPECT_NE(all.find("fieldpeg " + path), std::string::npos)
            << "no guide tells of fieldpeg " << path;
    });
}

}  // namespace
}  // namespace fieldpeg::verbs
