#include "tests/book/mistakes.h"

#include "server/book/day_file.h"
#include "tests/support/days.h"

#include <gtest/gtest.h>

#include <algorithm>

namespace fieldpeg::testing {
namespace {

unsigned line_of(std::string_view text, std::string_view part) {
    const auto at = text.find(part);
    if (at == text.npos) return 0;
    return 1 + static_cast<unsigned>(std::ranges::count(text.substr(0, at), '\n'));
}

void expect_said(const Mistake& m, std::string_view text) {
    const auto problems = problems_of(text);
    ASSERT_EQ(problems.size(), 1u) << "for " << m.to << "\n" << listed(problems);
    const auto said = to_string(problems[0]);
    EXPECT_NE(said.find(m.says), std::string::npos) << said;
    EXPECT_EQ(problems[0].line, line_of(text, m.at.empty() ? m.to : m.at)) << said;
    EXPECT_TRUE(said.starts_with("day.toml:")) << said;
}

}  // namespace

book::Problems problems_of(std::string_view text) {
    book::Problems problems;
    const auto sheet = book::read_day(text, "day.toml", problems);
    EXPECT_EQ(sheet.has_value(), problems.empty());
    return problems;
}

std::string listed(const book::Problems& problems) {
    std::string all;
    for (const auto& problem : problems) all += to_string(problem) + "\n";
    return all;
}

void expect_each_said(std::string_view text, std::initializer_list<Mistake> mistakes) {
    for (const auto& m : mistakes) expect_said(m, changed(text, m.from, m.to));
}

void expect_each_said(std::initializer_list<Mistake> mistakes) {
    expect_each_said(whole_day(), mistakes);
}

}  // namespace fieldpeg::testing
