#include "server/book/toml_depth.h"
#include "server/book/day_file.h"
#include "server/book/reader.h"
#include "tests/book/mistakes.h"
#include "tests/support/random.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

/// Texts that are nested deeper than anybody writes. A parser that follows them runs out of stack,
/// or whoever takes its tables down again does.
namespace fieldpeg::book {
namespace {

using testing::for_all;
using testing::problems_of;
using testing::whole;

constexpr int absurd = 50'000;

std::string repeated(std::string_view what, int times) {
    std::string text;
    for (int i = 0; i < times; ++i) text += what;
    return text;
}

TEST(TomlDepth, IsRefusedWhereItIsAbsurdWithItsLineAndTheBound) {
    const std::pair<const char*, std::string> texts[] = {
        {"dotted key", repeated("a.", absurd) + "a = 1\n"},
        {"dotted key with spaces", repeated("a . ", absurd) + "a = 1\n"},
        {"quoted key", repeated("\"a\".", absurd) + "a = 1\n"},
        {"literal key", repeated("'#'.", absurd) + "a = 1\n"},
        {"table", "[" + repeated("a.", absurd) + "a]\n"},
        {"array of tables", "[[" + repeated("a.", absurd) + "a]]\n"},
        {"array", "a = " + repeated("[", absurd) + repeated("]", absurd) + "\n"},
        {"inline table", "a = " + repeated("{ a = ", absurd) + "1" + repeated("}", absurd) + "\n"},
        {"array of inline tables", "a = " + repeated("[{ a = ", absurd) + "1\n"},
        {"dotted keys in inline tables", "a = " + repeated("{ a.a.a.a.a.a.a.a = ", 200) + "1\n"},
        {"long dotted key in an inline table", "a = { " + repeated("a.", absurd) + "a = 1 }\n"},
        {"key behind a backslash", R"('\')" + repeated(".a", absurd) + " = 1\n"},
        {"array behind a text that ends in a quote",
         R"(a = ["""x"""", )" + repeated("[", absurd) + "\n"},
        {"never ended", repeated("a.", absurd)},
    };
    for (const auto& [what, text] : texts) {
        const auto problems = problems_of("# first\n\n" + text);
        ASSERT_EQ(problems.size(), 1U) << what;
        EXPECT_EQ(problems[0].line, 3U) << what;
        EXPECT_TRUE(problems[0].expected.starts_with("at most ")) << to_string(problems[0]);
    }
}

TEST(TomlDepth, NamesTheBoundThatWasPassed) {
    const auto key = problems_of("[day]\n" + repeated("a.", key_parts_max) + "a = 1\n");
    ASSERT_EQ(key.size(), 1U);
    EXPECT_EQ(to_string(key[0]), "day.toml:2: has a key of more than 8 parts; expected at most 8");
    const auto value = problems_of("[day]\na = 1\nb = " + repeated("[", brackets_max + 1));
    ASSERT_EQ(value.size(), 1U);
    EXPECT_EQ(to_string(value[0]),
              "day.toml:3: has values nested more than 8 deep; expected at most 8");
}

TEST(TomlDepth, UpToTheBoundIsRead) {
    Problems problems;
    EXPECT_TRUE(parse_toml(repeated("a.", key_parts_max - 1) + "a = 1\n", "a.toml", problems));
    EXPECT_TRUE(parse_toml("[" + repeated("a.", key_parts_max - 1) + "a]\n", "a.toml", problems));
    EXPECT_TRUE(
        parse_toml("a = " + repeated("[", brackets_max) + repeated("]", brackets_max) + "\n",
                   "a.toml", problems));
    EXPECT_TRUE(problems.empty());
}

// What only looks deep: in a text, in a comment, one beside the other.
TEST(TomlDepth, IsOfKeysAndBracketsAlone) {
    const auto dots = repeated("a.", 20);
    const auto brackets = repeated("[{", 20);
    for (const auto& text : {
             "a = \"" + dots + brackets + "\"\n",
             "a = '" + dots + brackets + "'\n",
             "a = \"\"\"\n" + dots + "\n\" \"\" \\\"\"\" " + brackets + "\"\"\"\"\"\n",
             "a = '''\n" + dots + "\n' '' " + brackets + "'''''\n",
             "a = \"\\\"" + dots + brackets + "\"\n",
             "# \"" + dots + brackets + "\na = 1\n",
             "a = 1 # ' " + dots + brackets + "\n",
             "a = [" + repeated("1.5, ", 100) + "2.5]\n",
             "a = [" + repeated("[1.5, 2.5],\n", 100) + "]\n",
             "\"" + dots + brackets + "\" = 1\n",
             "a = \"\"\nb = ''\n" + std::string("c = 1.5\n"),
         }) {
        Problems problems;
        EXPECT_TRUE(parse_toml(text, "a.toml", problems)) << text;
        EXPECT_TRUE(problems.empty()) << text << testing::listed(problems);
    }
}

/// How deep a table goes; without recursion.
std::size_t depth_of(const toml::table& table) {
    std::size_t deepest = 0;
    std::vector<std::pair<const toml::node*, std::size_t>> open{{&table, 1}};
    while (!open.empty()) {
        const auto [node, depth] = open.back();
        open.pop_back();
        deepest = std::max(deepest, depth);
        if (const auto* inner = node->as_table())
            for (const auto& [key, value] : *inner) open.emplace_back(&value, depth + 1);
        if (const auto* inner = node->as_array())
            for (const auto& value : *inner) open.emplace_back(&value, depth + 1);
    }
    return deepest;
}

// The bound is looked for by another reader of the text than the parser: where the two saw a quote
// or a comment differently, depth could hide from one of them.
TEST(TomlDepth, OfWhatIsParsedIsNeverBeyondTheBounds) {
    constexpr auto deepest = 1 + key_parts_max + brackets_max * (1 + key_parts_max);
    const std::string deep_key = repeated("a.", 12) + "a";
    int parsed = 0;
    for_all(20'000, [&](std::mt19937_64& rng) {
        const std::vector<std::string> pieces = {
            "a",      "b",    ".",  "=",  "\"",  "'",    "\"\"\"", "'''",  "[",
            "]",      "{",    "}",  ",",  "\n",  "#",    "\\",     " ",    "1.5",
            "[[",     "]]",   "\r", "\t", "a=1", "\n[a", "k = \"", "\"\n", deep_key + "=1",
            deep_key, "\xc3", "''"};
        std::string text;
        for (int i = whole(rng, 1, 14); i > 0; --i)
            text += pieces[static_cast<std::size_t>(
                whole(rng, 0, static_cast<int>(pieces.size()) - 1))];
        Problems problems;
        const auto table = parse_toml(text, "a.toml", problems);
        if (!table) return;
        ++parsed;
        EXPECT_LE(depth_of(*table), deepest) << text;
        // No key of the bound's length or more was hidden from the one and seen by the other.
        EXPECT_LT(depth_of(*table), std::size_t{12}) << text;
    });
    EXPECT_GT(parsed, 500) << "most were no TOML at all";
}

// Behind any text, quote or comment that is rightly ended, what is deep is seen, and on its line.
TEST(TomlDepth, IsNotHiddenByWhatIsBeforeIt) {
    const std::vector<std::string> values = {R"('\')",
                                             R"("\\")",
                                             R"("\"")",
                                             R"('"')",
                                             R"("'")",
                                             R"('')",
                                             R"("")",
                                             R"("""""")",
                                             R"("""a""""")",
                                             R"('''a''''')",
                                             R"("""\"""")",
                                             R"("""\\""")",
                                             R"('''\''')",
                                             R"("#")",
                                             R"('#')",
                                             R"(1 # ")",
                                             R"(1 # """)",
                                             R"(1 # ''')",
                                             R"(["]", '[']  )",
                                             R"("""#'''""")",
                                             "\"\"\"\n\n'\"\"\"",
                                             "'''\n\"'''",
                                             "\"\"\"\\\n a\"\"\"",
                                             "[\n1, # ]\n2]",
                                             "{ a = '}' }"};
    const auto deep = repeated("a.", absurd) + "a = 1\n";
    for_all(2'000, [&](std::mt19937_64& rng) {
        std::string text;
        for (int i = whole(rng, 1, 5); i > 0; --i)
            text += "k" + std::to_string(i) + " = " +
                    values[static_cast<std::size_t>(
                        whole(rng, 0, static_cast<int>(values.size()) - 1))] +
                    "\n";
        Problems problems;
        EXPECT_TRUE(parse_toml(text, "a.toml", problems)) << text << testing::listed(problems);
        const auto found = too_deep(text + deep);
        ASSERT_TRUE(found) << text;
        EXPECT_EQ(found->line, 1 + std::ranges::count(text, '\n')) << text;
    });
}

TEST(DayFile, OfTooMuchGearOfOneKindIsRefusedAndNotComparedEachWithEach) {
    std::string text = "[emission]\n";
    for (int i = 0; i < 90'000; ++i) text += "e" + std::to_string(i) + "={}\n";
    const auto problems = problems_of(text);
    const auto said =
        std::ranges::find_if(problems, [](const auto& p) { return p.what == "has 90000 entries"; });
    ASSERT_NE(said, problems.end()) << testing::listed(problems);
    EXPECT_EQ(said->line, 1U);
}

}  // namespace
}  // namespace fieldpeg::book
