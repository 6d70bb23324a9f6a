// The rules of the house that a program can check: read the tree, not the compiler's mind.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace fieldpeg {
namespace {

namespace fs = std::filesystem;

const fs::path root = FIELDPEG_SOURCE_DIR;

struct Line {
    std::string file;
    int number;
    std::string text;

    std::string where() const { return file + ":" + std::to_string(number) + ": "; }
};

template <class Check>
void for_each_line(const std::set<std::string>& folders, Check check) {
    for (const auto& folder : folders) {
        for (const auto& entry : fs::recursive_directory_iterator(root / folder)) {
            const auto extension = entry.path().extension();
            if (extension != ".h" && extension != ".cc") continue;
            std::ifstream in(entry.path());
            std::string text;
            for (int number = 1; std::getline(in, text); ++number)
                check(Line{fs::relative(entry.path(), root).string(), number, text});
        }
    }
}

std::string whole(const fs::path& path) {
    std::ifstream in(path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

/// What each floor may include, itself aside (DEVELOPERS.md, "The house").
const std::map<std::string, std::set<std::string>> floors = {
    {"server/refusal", {}},
    {"server/spectrum", {"server/refusal"}},
    {"server/planner", {"server/refusal", "server/spectrum"}},
    {"server/book", {"proto", "server/refusal", "server/spectrum"}},
    {"server/day", {"proto", "server/refusal", "server/spectrum"}},
    {"server/log", {"proto", "server/refusal"}},
    {"server/planning",
     {"proto", "server/refusal", "server/spectrum", "server/planner", "server/book", "server/day"}},
    {"server/service",
     {"proto", "server/refusal", "server/spectrum", "server/book", "server/day", "server/log",
      "server/planning"}},
    {"server/wire", {"proto", "server/refusal", "server/day", "server/planning", "server/service"}},
    {"server/board", {"proto", "server/refusal", "server/day", "server/service", "server/wire"}},
    {"client/link",
     {"proto", "server/refusal", "server/book", "server/log", "server/planning", "server/service",
      "server/wire"}},
    {"client/show", {"proto", "server/refusal", "server/day"}},
    {"client/verbs",
     {"proto", "server/refusal", "client/link", "client/show", "server/book", "server/day",
      "server/wire"}},
};

/// "server/book/x.h" stands on "server/book", "fieldpeg/v1/x.pb.h" on "proto".
std::string floor_of(const std::string& path) {
    if (path.starts_with("fieldpeg/v1/")) return "proto";
    const auto first = path.find('/');
    const auto second = first == std::string::npos ? first : path.find('/', first + 1);
    return second == std::string::npos ? "" : path.substr(0, second);
}

TEST(Tidy, IncludesGoDownwards) {
    const std::regex include(R"re(^#include "([^"]+)")re");
    for_each_line({"server", "client"}, [&](const Line& line) {
        const auto from = floor_of(line.file);
        std::smatch match;
        if (from.empty() || !std::regex_search(line.text, match, include)) return;
        const auto to = floor_of(match[1]);
        ASSERT_TRUE(floors.contains(from)) << line.where() << "a floor that the table lacks";
        EXPECT_TRUE(to == from || floors.at(from).contains(to))
            << line.where() << from << " may not include " << match[1];
    });
}

/// The floors that each floor links, as its fieldpeg_floor() in a CMake file says.
std::map<std::string, std::set<std::string>> links_of_floors(const std::string& folder) {
    std::map<std::string, std::set<std::string>> links;
    const auto text = whole(root / folder / "CMakeLists.txt");
    const std::regex floor(R"re(fieldpeg_floor\((\w+)([^)]*)\))re");
    const std::regex linked(R"re(fieldpeg::(\w+))re");
    for (std::sregex_iterator it(text.begin(), text.end(), floor), end; it != end; ++it) {
        auto& own = links[folder + "/" + (*it)[1].str()];
        const auto arguments = (*it)[2].str();
        for (std::sregex_iterator to(arguments.begin(), arguments.end(), linked); to != end; ++to)
            own.insert((*to)[1]);
    }
    return links;
}

// The linker keeps to the table only if the libraries do.
TEST(Tidy, EachFloorLinksWhatItIncludesAndOnlyWhatItMay) {
    auto links = links_of_floors("server");
    links.merge(links_of_floors("client"));
    std::map<std::string, std::set<std::string>> includes;
    const std::regex include(R"re(^#include "([^"]+)")re");
    for_each_line({"server", "client"}, [&](const Line& line) {
        const auto from = floor_of(line.file);
        std::smatch match;
        if (from.empty() || !std::regex_search(line.text, match, include)) return;
        const auto to = floor_of(match[1]);
        if (to != from) includes[from].insert(to.substr(to.find('/') + 1));
    });
    for (const auto& [floor, allowed] : floors) {
        ASSERT_TRUE(links.contains(floor)) << floor << " is no library";
        for (const auto& to : includes[floor])
            EXPECT_TRUE(links[floor].contains(to)) << floor << " includes " << to;
        std::set<std::string> may;
        for (const auto& path : allowed) may.insert(path.substr(path.find('/') + 1));
        for (const auto& to : links[floor])
            EXPECT_TRUE(may.contains(to)) << floor << " may not link " << to;
    }
}

TEST(Tidy, LibrariesStayOnTheirFloors) {
    const std::map<std::string, std::set<std::string>> only = {
        {"toml++", {"server/book"}},
        {"CLI/", {"client/verbs"}},
        {"spdlog/",
         {"server/service", "server/wire", "server/board", "client/link", "client/verbs"}},
        {"boost/asio", {"server/service", "server/wire", "server/board", "client/link"}},
        {"boost/beast", {"server/board"}},
        {"boost/url", {"server/wire", "server/board", "client/show"}},
        {"SQLiteCpp", {"server/log"}},
        {"sqlite3", {"server/log"}},
        {"libpq", {"server/log"}},
        {"date/", {"client/show"}},
        {"openssl/", {"server/log", "server/service", "server/wire"}},
        {"GeographicLib/", {"server/book"}},
        {"pugixml", {"client/show", "client/verbs"}},
        {"qrencode", {"server/wire"}},
        {"unicode/", {"server/book"}},
        {"utf8proc", {"server/book", "server/day", "client/show"}},
        {"google/protobuf/util", {}},
    };
    for_each_line({"server", "client"}, [&](const Line& line) {
        if (!line.text.starts_with("#include <")) return;
        if (floor_of(line.file).empty()) return;  // wiring: anything
        for (const auto& [library, allowed] : only) {
            const bool is_it = line.text.substr(10).starts_with(library);
            EXPECT_TRUE(!is_it || allowed.contains(floor_of(line.file)))
                << line.where() << library << " belongs elsewhere";
        }
    });
}

TEST(Tidy, PureFloorsKnowNoTimeNoChanceAndNoFiles) {
    const std::regex impure(
        R"re(#include <(chrono|ctime|thread|mutex|random|fstream|iostream|filesystem)>)re");
    for_each_line({"server/refusal", "server/spectrum", "server/planner", "server/day"},
                  [&](const Line& line) {
                      EXPECT_FALSE(std::regex_search(line.text, impure))
                          << line.where() << line.text;
                  });
}

TEST(Tidy, EveryCitedKeyHasAnEntry) {
    const std::regex key(R"re(\[([A-Z0-9][A-Za-z0-9.&-]+), )re");
    const auto references = whole(root / "docs/references.md");
    for_each_line({"server", "client"}, [&](const Line& line) {
        for (std::sregex_iterator it(line.text.begin(), line.text.end(), key), end; it != end; ++it)
            EXPECT_NE(references.find("**" + (*it)[1].str() + "**"), std::string::npos)
                << line.where() << (*it)[1] << " is not in docs/references.md";
    });
}

// g++ 12 destroys an aggregate, and so the captures of a lambda, once too often when it is made in
// an expression that also awaits. Give it a name on the line above.
TEST(Tidy, NothingIsBracedWhereSomethingIsAwaited) {
    std::string statement;
    for_each_line({"server", "client"}, [&](const Line& line) {
        auto code = line.text.substr(0, line.text.find("//"));
        code.erase(code.find_last_not_of(' ') + 1);
        const bool opens_a_block = code.ends_with("{");
        statement += opens_a_block ? code.substr(0, code.size() - 1) : code;
        if (!opens_a_block && !code.ends_with(";") && !code.ends_with("}")) return;
        EXPECT_FALSE(statement.find("co_await") != std::string::npos &&
                     statement.find('{') != std::string::npos)
            << line.where() << "name the braced value on the line above";
        statement.clear();
    });
}

// The build makes one script each of what these import: another module would be in none.
TEST(Tidy, EveryModuleOfThePageIsReachedFromItsFirst) {
    const auto page = root / "server/board/page";
    const std::regex import(R"re((?:import|from)\s*['"]\./([^'"]+)['"])re");
    std::set<std::string> reached;
    std::vector<std::string> to_read = {"board.js", "words_de.js", "worker.js"};
    while (!to_read.empty()) {
        const auto name = to_read.back();
        to_read.pop_back();
        if (!reached.insert(name).second) continue;
        ASSERT_TRUE(fs::exists(page / name)) << name;
        const auto text = whole(page / name);
        for (std::sregex_iterator it(text.begin(), text.end(), import), end; it != end; ++it)
            to_read.push_back((*it)[1]);
    }
    for (const auto& entry : fs::directory_iterator(page)) {
        const auto name = entry.path().filename().string();
        EXPECT_TRUE(!name.ends_with(".js") || reached.contains(name)) << name;
    }
}

TEST(Tidy, NothingAtTheTopBesideWhatBelongsThere) {
    const std::set<std::string> known = {"CMakeLists.txt", "CMakePresets.json",
                                         "LICENSE",        "README.md",
                                         "DEVELOPERS.md",  "server",
                                         "client",         "proto",
                                         "tests",          "docs",
                                         "build"};
    for (const auto& entry : fs::directory_iterator(root)) {
        const auto name = entry.path().filename().string();
        EXPECT_TRUE(name.starts_with(".") || known.contains(name)) << name;
    }
}

// The tool advises; what is allowed or without risk is not for it to say. "legal" may stand only
// where a sentence denies it.
TEST(Tidy, NeverSaysThatSomethingIsLegalOrSafe) {
    const std::regex claim(R"re("[^"]*\b(legal|legally|is safe|safe to)\b[^"]*")re");
    for_each_line({"server", "client"}, [&](const Line& line) {
        if (line.text.find("//") != std::string::npos) return;
        EXPECT_FALSE(std::regex_search(line.text, claim)) << line.where() << line.text;
    });
}

}  // namespace
}  // namespace fieldpeg
