#include "server/book/sweep.h"

#include "tests/book/mistakes.h"
#include "tests/support/random.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <random>
#include <string>
#include <string_view>
#include <vector>

/// Tables of frequency and level as scanners write them: common practice, no published source. What
/// comes out is known in closed form, as the tables are written here.
namespace fieldpeg::book {
namespace {

using testing::between;
using testing::chance;
using testing::for_all;
using testing::listed;
using testing::one_of;
using testing::whole;

Problems problems_in(std::string_view text) {
    Problems problems;
    const auto sweep = read_sweep(text, "noon.csv", problems);
    EXPECT_EQ(sweep.has_value(), problems.empty()) << listed(problems);
    return problems;
}

v1::Sweep sweep_of(std::string_view text) {
    Problems problems;
    const auto sweep = read_sweep(text, "noon.csv", problems);
    if (!sweep) throw std::logic_error(listed(problems));
    return *sweep;
}

/// A line for each MHz from 5700 on.
std::string lines(int count, double step_mhz = 1, double level_dbm = -90) {
    std::string all;
    for (int i = 0; i < count; ++i) all += fmt::format("{},{}\n", 5700 + i * step_mhz, level_dbm);
    return all;
}
std::string table(int count, double step_mhz = 1) {
    return "frequency_mhz,level_dbm\n" + lines(count, step_mhz);
}

// --- what is read

TEST(ReadSweep, HasALevelForEachStep) {
    std::string text = "frequency_mhz,level_dbm\n";
    for (int i = 0; i < 12; ++i) text += fmt::format("{},{}\n", 5700 + 2 * i, -95.5 + i);
    const auto sweep = sweep_of(text);
    EXPECT_EQ(sweep.start_mhz(), 5700);
    EXPECT_NEAR(sweep.step_mhz(), 2, 1e-9);
    EXPECT_NEAR(sweep.resolution_mhz(), 2, 1e-9);
    ASSERT_EQ(sweep.level_dbm_size(), 12);
    for (int i = 0; i < 12; ++i) EXPECT_EQ(sweep.level_dbm(i), static_cast<float>(-95.5 + i));
    EXPECT_EQ(sweep.at_ms(), 0);
    EXPECT_EQ(sweep.note(), "");
}

TEST(ReadSweep, ReadsTheUnitOfItsHeader) {
    for (const auto& [head, in_mhz] : {std::pair{"frequency_hz", 1e-6},
                                       {"Frequency [Hz]", 1e-6},
                                       {"FREQ (kHz)", 1e-3},
                                       {"freq_mhz", 1.0},
                                       {"\"Frequency MHz\"", 1.0},
                                       {"Centre frequency / GHz", 1e3}}) {
        std::string text = fmt::format("{},level_dbm\n", head);
        for (int i = 0; i < 10; ++i) text += fmt::format("{:.9f},-90\n", (5700 + i) / in_mhz);
        const auto sweep = sweep_of(text);
        EXPECT_NEAR(sweep.start_mhz(), 5700, 1e-6) << head;
        EXPECT_NEAR(sweep.step_mhz(), 1, 1e-6) << head;
        EXPECT_EQ(sweep.level_dbm_size(), 10) << head;
    }
}

TEST(ReadSweep, TakesCommasSemicolonsAndTabs) {
    for (const char separator : {',', ';', '\t'}) {
        auto text = table(10);
        std::ranges::replace(text, ',', separator);
        EXPECT_EQ(sweep_of(text).SerializeAsString(), sweep_of(table(10)).SerializeAsString())
            << separator;
    }
}

TEST(ReadSweep, TakesDecimalCommasWhereNothingElseIsSeparatedByThem) {
    for (const char separator : {';', '\t'}) {
        std::string text = fmt::format("frequency_mhz{}level_dbm\n", separator);
        for (int i = 0; i < 10; ++i) text += fmt::format("570{},5{}-90,25\n", i, separator);
        const auto sweep = sweep_of(text);
        EXPECT_EQ(sweep.start_mhz(), 5700.5);
        EXPECT_EQ(sweep.level_dbm(9), -90.25F);
    }
}

TEST(ReadSweep, FindsItsColumnsAmongOthers) {
    std::string text = "time,level (dBm),note,Frequency (MHz),level (dBm) max\n";
    for (int i = 0; i < 10; ++i) text += fmt::format("12:0{},-8{},x,{},-10\n", i, i, 5700 + i);
    const auto sweep = sweep_of(text);
    EXPECT_EQ(sweep.start_mhz(), 5700);
    EXPECT_EQ(sweep.level_dbm(7), -87);
}

TEST(ReadSweep, PassesOverRemarksAndEmptyLinesAndQuotes) {
    std::string text = "# a scanner at the line\r\n\r\n  \n\"frequency_mhz\",\"level_dbm\"\r\n";
    for (int i = 0; i < 10; ++i) text += fmt::format("\"{}\" , \"-90\"\r\n# {}\r\n", 5700 + i, i);
    EXPECT_EQ(sweep_of(text).SerializeAsString(), sweep_of(table(10)).SerializeAsString());
}

TEST(ReadSweep, NeedsNoEndOfTheLastLine) {
    auto text = table(10);
    text.pop_back();
    EXPECT_EQ(sweep_of(text).level_dbm_size(), 10);
}

TEST(ReadSweep, ReadsTheResolutionOfARemark) {
    EXPECT_EQ(sweep_of("# resolution_khz = 250\n" + table(10)).resolution_mhz(), 0.25);
    EXPECT_EQ(sweep_of("# Resolution_kHz=1000\n" + table(10)).resolution_mhz(), 1);
    EXPECT_EQ(sweep_of(table(10) + "# resolution_khz = 12.5\n").resolution_mhz(), 0.0125);
    EXPECT_NEAR(sweep_of("# resolution is 250 kHz\n" + table(10)).resolution_mhz(), 1, 1e-9);
}

TEST(ReadSweep, MindsNoStepThatIsALittleUneven) {
    std::string text = "frequency_mhz,level_dbm\n";
    for (int i = 0; i < 20; ++i) text += fmt::format("{},{}\n", 5700 + i + 0.2 * (i % 2), -90 + i);
    const auto sweep = sweep_of(text);
    EXPECT_EQ(sweep.level_dbm(0), -90);
    EXPECT_EQ(sweep.level_dbm(sweep.level_dbm_size() - 1), -71);
}

// --- what is put together

TEST(ReadSweep, IsLeftAsItIsUpToTheMostSteps) {
    const auto sweep = sweep_of(table(static_cast<int>(sweep_steps_max), 0.05));
    EXPECT_EQ(sweep.level_dbm_size(), static_cast<int>(sweep_steps_max));
    EXPECT_NEAR(sweep.step_mhz(), 0.05, 1e-9);
}

// One carrier in 20 001 points: whichever step it falls into, it stays as strong as it was.
TEST(ReadSweep, PutsTogetherByTheGreatestLevel) {
    for (const int at : {0, 1, 777, 10'000, 19'999, 20'000}) {
        std::string text = "frequency_mhz,level_dbm\n";
        for (int i = 0; i <= 20'000; ++i)
            text += fmt::format("{:.4f},{}\n", 5600 + i * 0.02, i == at ? -40 : -95);
        const auto sweep = sweep_of(text);
        ASSERT_EQ(sweep.level_dbm_size(), static_cast<int>(sweep_steps_max));
        EXPECT_EQ(std::ranges::count(sweep.level_dbm(), -40.0F), 1) << at;
        EXPECT_EQ(std::ranges::count(sweep.level_dbm(), -95.0F), sweep.level_dbm_size() - 1) << at;
        const auto found = std::ranges::find(sweep.level_dbm(), -40.0F) - sweep.level_dbm().begin();
        EXPECT_NEAR(sweep.start_mhz() + static_cast<double>(found) * sweep.step_mhz(),
                    5600 + at * 0.02, sweep.step_mhz() / 2 + 1e-6);
        EXPECT_NEAR(sweep.start_mhz() + 3999 * sweep.step_mhz(), 6000, 1e-6);
        EXPECT_NEAR(sweep.resolution_mhz(), 0.02, 1e-6);  // in which it was measured
    }
}

// --- what is wrong, and where

/// One mistake in a table of ten lines, and where it is said.
void expect_said(std::string_view text, unsigned line, std::string_view phrase) {
    const auto problems = problems_in(text);
    ASSERT_EQ(problems.size(), 1U) << phrase << "\n" << listed(problems);
    EXPECT_EQ(problems[0].file, "noon.csv");
    EXPECT_EQ(problems[0].line, line) << phrase;
    EXPECT_NE(to_string(problems[0]).find(phrase), std::string::npos) << to_string(problems[0]);
    EXPECT_FALSE(problems[0].expected.empty()) << phrase;
}

TEST(ReadSweepProblem, IsAHeaderThatIsNone) {
    expect_said(lines(10), 1, "is no header of a sweep");
    expect_said("# a remark\n\n" + lines(10), 3, "is no header of a sweep");
    expect_said("frequency_mhz,level\n" + lines(10), 1, "is no header of a sweep");
    expect_said("mhz,dbm\n" + lines(10), 1, "is no header of a sweep");
}

TEST(ReadSweepProblem, IsAFrequencyWithoutAUnit) {
    expect_said("frequency,level_dbm\n" + lines(10), 1, "names no unit");
}

TEST(ReadSweepProblem, IsAWrongUnit) {
    expect_said("frequency_ghz,level_dbm\n" + lines(10), 2, "is the unit in the header right?");
    expect_said("frequency_mhz,level_dbm\n0,-90\n" + lines(10), 2, "is no frequency of a sweep");
    expect_said("frequency_mhz,level_dbm\n-5,-90\n" + lines(10), 2, "is no frequency of a sweep");
}

TEST(ReadSweepProblem, IsAFrequencyThatDoesNotRise) {
    expect_said(table(10) + "5705,-90\n", 12, "5705 MHz comes after 5709 MHz");
    expect_said(table(10) + "5709,-90\n", 12, "5709 MHz comes after 5709 MHz");
}

TEST(ReadSweepProblem, IsALevelThatIsNone) {
    expect_said(table(10) + "5710,61\n", 12, "61 dBm is no level");
    expect_said(table(10) + "5710,-201\n", 12, "-201 dBm is no level");
    expect_said(table(10) + "5710,nan\n", 12, "is no line of numbers");
    expect_said(table(10) + "inf,-90\n", 12, "is no line of numbers");
    expect_said(table(10) + "5710,-90 dBm\n", 12, "is no line of numbers");
    expect_said(table(10) + "5710,\n", 12, "is no line of numbers");
    expect_said(table(10) + "5710\n", 12, "has too few columns");
    EXPECT_TRUE(problems_in(table(10) + "5710,60\n5711,-200\n").empty());
}

TEST(ReadSweepProblem, IsAHole) {
    std::string text = table(10);
    for (int i = 0; i < 10; ++i) text += fmt::format("{},-90\n", 5900 + i);
    expect_said(text, 0, "nothing was measured between 5709 and 5900 MHz");
    EXPECT_TRUE(problems_in(table(10) + "5714,-90\n").empty());  // four points are missing
    expect_said(table(10) + "5714.5,-90\n", 0, "nothing was measured between 5709 and 5714.5 MHz");
}

TEST(ReadSweepProblem, IsHavingTooFewPoints) {
    expect_said(table(9), 0, "has 9 points");
    expect_said("frequency_mhz,level_dbm\n", 0, "has 0 points");
    expect_said("", 0, "has 0 points");
    expect_said("# nothing but a remark\n", 0, "has 0 points");
    EXPECT_TRUE(problems_in(table(10)).empty());
}

TEST(ReadSweepProblem, IsAResolutionThatIsNone) {
    for (const auto* is : {"0", "-1", "nan", "inf", "much", "", "1e6"})
        expect_said(fmt::format("# resolution_khz = {}\n", is) + table(10), 1, "is no resolution");
}

TEST(ReadSweepProblem, IsHavingTooManyLines) {
    std::string text = "frequency_mhz,level_dbm\n";
    text.append(sweep_lines_max - 1, '\n');
    expect_said(text, 0, "has 0 points");
    text += '\n';
    expect_said(text, 0, "has more than 1000000 lines");
}

TEST(ReadSweepProblem, IsHavingTooManyColumns) {
    const auto wide = [](std::size_t columns) {
        const std::string more(columns - 2, ',');
        std::string text = "frequency_mhz,level_dbm" + more + "\n";
        for (int i = 0; i < 12; ++i) text += std::to_string(5700 + i) + ",-90" + more + "\n";
        return text;
    };
    EXPECT_TRUE(problems_in(wide(sweep_columns_max)).empty());
    expect_said(wide(sweep_columns_max + 1), 1, "has more than 256 columns");
    expect_said(wide(2'000'000), 1, "has more than 256 columns");
    auto late = wide(2);
    late += "5800,-90" + std::string(sweep_columns_max, ',') + "\n";
    expect_said(late, 14, "has more than 256 columns");
}

TEST(ReadSweepProblem, IsBeingTooLong) {
    std::string text = table(10);
    text.append(sweep_bytes_max, '#');
    const auto problems = problems_in(text);
    ASSERT_EQ(problems.size(), 1U);
    EXPECT_NE(problems[0].what.find("bytes long"), std::string::npos);
}

// A message goes to a terminal: nothing of the file that would move its cursor.
TEST(ReadSweepProblem, ShowsNothingOfTheFileThatIsNoText) {
    for (const auto* text : {"freq\x1b[2Juency,level\n", "frequency\x1b[2J,dBm\n",
                             "frequency_mhz,dBm\n\x1b[2J,\x07\n", "frequency_mhz,dBm\n\x1b[2J\n"}) {
        const auto problems = problems_in(text);
        ASSERT_EQ(problems.size(), 1U);
        for (const char c : to_string(problems[0]))
            EXPECT_GE(static_cast<unsigned char>(c), 0x20) << to_string(problems[0]);
    }
}

// --- whatever is in a file

/// What every sweep is that is read.
void expect_sound(const v1::Sweep& sweep) {
    ASSERT_GE(sweep.level_dbm_size(), 2);
    ASSERT_LE(sweep.level_dbm_size(), static_cast<int>(sweep_steps_max));
    EXPECT_GT(sweep.start_mhz(), 0);
    EXPECT_GT(sweep.step_mhz(), 0);
    EXPECT_GT(sweep.resolution_mhz(), 0);
    for (const float level : sweep.level_dbm()) {
        EXPECT_GE(level, -200);
        EXPECT_LE(level, 60);
    }
}

/// A random table, as rough as files are: uneven steps, other columns, remarks.
struct Drawn {
    std::string text;
    std::vector<std::pair<double, double>> points;
};
Drawn drawn(std::mt19937_64& rng) {
    Drawn made;
    const auto separator = one_of<std::string>(rng, {",", ";", "\t"});
    const int count = chance(rng, 20) ? whole(rng, 4001, 9000) : whole(rng, 10, 600);
    const double step = count > 600 ? 0.3 : one_of(rng, {0.01, 0.5, 1.0, 5.0});
    const double unit = one_of(rng, {1e3, 1.0, 1e-3});
    made.text = fmt::format("# drawn\n{}{}level_dbm{}more\n",
                            unit == 1e3   ? "frequency_khz"
                            : unit == 1.0 ? "frequency_mhz"
                                          : "frequency_ghz",
                            separator, separator);
    double mhz = between(rng, 100, 5000);
    for (int i = 0; i < count; ++i) {
        const auto frequency = fmt::format("{:.9f}", mhz * unit);
        const auto level = fmt::format("{:.2f}", between(rng, -120, 0));
        made.points.emplace_back(std::stod(frequency) / unit, std::stod(level));
        made.text += fmt::format("{}{}{}{}x\n", frequency, separator, level, separator);
        mhz += step * between(rng, 0.8, 1.25);
        if (chance(rng, 1)) made.text += "# a remark\n";
    }
    return made;
}

TEST(ReadSweepProperty, LosesNoStrongestLevelAndMovesItByHalfAStepAtMost) {
    for_all(60, [](std::mt19937_64& rng) {
        const auto given = drawn(rng);
        const auto sweep = sweep_of(given.text);
        expect_sound(sweep);
        const double step = sweep.step_mhz(), low = sweep.start_mhz();
        EXPECT_NEAR(low, given.points.front().first, 1e-6);
        EXPECT_NEAR(low + (sweep.level_dbm_size() - 1) * step, given.points.back().first, 1e-6);
        for (const auto& [mhz, dbm] : given.points) {
            const int at = static_cast<int>(std::floor((mhz - low) / step));
            float most = -300;  // of the two steps between which it lies
            for (const int i : {at, at + 1})
                if (i >= 0 && i < sweep.level_dbm_size()) most = std::max(most, sweep.level_dbm(i));
            ASSERT_GE(most, static_cast<float>(dbm));
        }
        const auto strongest = std::ranges::max_element(given.points, {}, [](const auto& p) {
                                   return p.second;
                               })->second;
        EXPECT_EQ(*std::ranges::max_element(sweep.level_dbm()), static_cast<float>(strongest));
    });
}

/// Bytes of a table, of nothing, or of both, thrown about.
std::string shaken(std::mt19937_64& rng) {
    static constexpr std::array<std::string_view, 16> pieces = {"frequency_mhz,level_dbm\n",
                                                                "freq hz;dBm\n",
                                                                "\t",
                                                                ",",
                                                                ";",
                                                                "\n",
                                                                "\r\n",
                                                                "#",
                                                                "# resolution_khz = ",
                                                                "nan",
                                                                "inf",
                                                                "-1e308",
                                                                "1e9",
                                                                "5e-324",
                                                                "\"",
                                                                "5700,-90\n"};
    std::string text = chance(rng, 60) ? drawn(rng).text.substr(0, 2000) : "";
    const int times = whole(rng, 1, 60);
    for (int i = 0; i < times; ++i) {
        const auto at = static_cast<std::size_t>(whole(rng, 0, static_cast<int>(text.size())));
        if (chance(rng, 40))
            text.insert(at, pieces[static_cast<std::size_t>(whole(rng, 0, pieces.size() - 1))]);
        else if (chance(rng, 50) || text.empty())
            text.insert(at, 1, static_cast<char>(whole(rng, 0, 255)));
        else
            text.erase(at, static_cast<std::size_t>(whole(rng, 1, 20)));
    }
    return text;
}

TEST(ReadSweepProperty, TakesWhateverBytesThereAreAndSaysWhatIsWrong) {
    for_all(3000, [](std::mt19937_64& rng) {
        const auto text = shaken(rng);
        Problems problems;
        const auto sweep = read_sweep(text, "noon.csv", problems);
        ASSERT_EQ(sweep.has_value(), problems.empty());
        if (sweep) return expect_sound(*sweep);
        ASSERT_EQ(problems.size(), 1U);
        EXPECT_FALSE(problems[0].what.empty());
        EXPECT_FALSE(problems[0].expected.empty());
        EXPECT_LE(problems[0].line, std::ranges::count(text, '\n') + 1);
    });
}

TEST(ReadSweepProperty, IsTheSameHoweverFineATableIsCut) {
    for_all(20, [](std::mt19937_64& rng) {
        std::string plain = "frequency_mhz,level_dbm\n",
                    dressed = "# drawn\n\nfrequency_khz;level_dbm\r\n";
        const int count = whole(rng, 10, 300);
        for (int i = 0; i < count; ++i) {
            const int level = whole(rng, -120, -20);
            plain += fmt::format("{},{}\n", 2400 + i, level);
            dressed += fmt::format(" {} ; {},0 \r\n# {}\r\n", (2400 + i) * 1000, level, i);
        }
        const auto a = sweep_of(plain), b = sweep_of(dressed);
        ASSERT_EQ(a.level_dbm_size(), b.level_dbm_size());
        for (int i = 0; i < a.level_dbm_size(); ++i) EXPECT_EQ(a.level_dbm(i), b.level_dbm(i));
        EXPECT_NEAR(a.start_mhz(), b.start_mhz(), 1e-9);
        EXPECT_NEAR(a.step_mhz(), b.step_mhz(), 1e-9);
    });
}

TEST(ReadSweep, ReadsADecimalCommaInItsResolution) {
    std::string text = "# resolution_khz = 12,5\nfrequency_mhz;level_dbm\n";
    for (int i = 0; i < 10; ++i) text += fmt::format("570{},5;-90,25\n", i);
    EXPECT_EQ(sweep_of(text).resolution_mhz(), 0.0125);
}
TEST(ReadSweep, PassesOverAByteOrderMark) {
    EXPECT_EQ(sweep_of("\xef\xbb\xbf# a remark\n" + table(10)).level_dbm_size(), 10);
}
TEST(ReadSweepProblem, IsAResolutionInAnotherUnit) {
    EXPECT_FALSE(problems_in("# resolution_khz = 1 MHz\n" + table(10)).empty());
}
TEST(ReadSweep, TakesAPlusBeforeANumber) {
    EXPECT_EQ(sweep_of(table(10) + "5710,+3\n").level_dbm(10), 3);
}

}  // namespace
}  // namespace fieldpeg::book
