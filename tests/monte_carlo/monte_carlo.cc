// Plays random club fields and holds what happens against the words of the program
// (docs/model.md, section 12).
//
//     monte_carlo FIELDS SEED ...          so many fields of each kind with each seed
//     monte_carlo --wrong FIELDS SEED ...  and a line for everybody who is wrongly passed or
//     refused
//     monte_carlo --guesses FIELDS SEED ... draws what is guessed about gear, eight times a field,
//     and holds the outlooks against it; nothing is played
//
// Marks where a target is missed: wrongly passed at most 1 %, wrongly refused at most 1.7 %,
// outlooks that hold and change sides at most 1 %. Ends with status 1 if an awful flight was
// passed.

#include "tests/monte_carlo/drawn.h"
#include "tests/monte_carlo/judged.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdint>
#include <functional>
#include <iterator>
#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::testing {
namespace {

using spectrum::Verdict;

constexpr double wrongly_passed_max = 0.01;
constexpr double wrongly_refused_max = 0.017;
constexpr Moments moments{.all_over = 10'000, .at_rim = 3'000};

std::string_view name(FieldKind kind) {
    constexpr std::string_view names[] = {"front", "inside", "relays"};
    return names[static_cast<std::size_t>(kind)];
}
std::string_view name(Sort sort) {
    constexpr std::string_view names[] = {"  one receiver",           "  one on a head that turns",
                                          "  one that hears a relay", "  several for one picture",
                                          "  both hops of a relay",   "  two ways to a picture"};
    return names[static_cast<std::size_t>(sort)];
}
std::string_view name(Verdict word) {
    constexpr std::string_view names[] = {"steady", "tight",   "patchy", "too close",
                                          "shaky",  "too far", "clash",  "no picture"};
    return names[static_cast<std::size_t>(word)];
}

double share_of(const std::vector<Judged>& all, bool (*what)(const Judged&)) {
    if (all.empty()) return 0;
    return static_cast<double>(std::ranges::count_if(all, what)) / static_cast<double>(all.size());
}

/// A line of the table; '*' where a target is missed.
void print_line(std::string_view of, const std::vector<Judged>& all) {
    if (all.empty()) return;
    const double passed = share_of(all, is_wrongly_passed);
    const double refused = share_of(all, is_wrongly_refused);
    const auto awful = std::ranges::count_if(all, is_awful_passed);
    double error = 0, compared = 0;
    for (const auto& j : all) {
        if (j.flown.lost > 0.3) continue;
        error += std::abs(1 - j.flown.lost - j.share);
        ++compared;
    }
    const auto mark = [](bool is_missed) { return is_missed ? '*' : ' '; };
    fmt::print("{:<30}{:>6}{:>9.2f} %{}{:>8.2f} %{}{:>6}{:>12.2f} %\n", of, all.size(),
               100 * passed, mark(passed > wrongly_passed_max), 100 * refused,
               mark(refused > wrongly_refused_max), awful, 100 * error / std::max(compared, 1.0));
}

void print_words(std::string_view of, const std::vector<Judged>& all) {
    if (all.empty()) return;
    std::map<Verdict, std::vector<double>> lost;
    std::map<Verdict, int> good, awful;
    for (const auto& j : all) {
        lost[j.word].push_back(j.flown.lost);
        good[j.word] += is_good(j.flown);
        awful[j.word] += is_awful(j.flown);
    }
    fmt::print("  {:<18}{:>7}{:>9}{:>9}{:>9}{:>9}{:>9}\n", of, "count", "good %", "awful %",
               "lost: 50%", "95%", "most");
    for (auto& [word, list] : lost) {
        std::ranges::sort(list);
        const auto n = static_cast<double>(list.size());
        const auto at = [&](double q) { return 100 * list[static_cast<std::size_t>(q * (n - 1))]; };
        fmt::print("  {:<18}{:>7}{:>9.1f}{:>9.1f}{:>9.1f}{:>9.1f}{:>9.1f}\n", name(word),
                   list.size(), 100 * good[word] / n, 100 * awful[word] / n, at(0.5), at(0.95),
                   at(1));
    }
}

void print_wrong(std::uint64_t seed, FieldKind kind, int field, const Judged& j) {
    const auto& first = j.who.ways.front().hops.front();
    fmt::print(
        "  {} seed {} {} field {} owner {} receiver {}{}: {}, M98 {:.1f} M80 {:.1f} alone "
        "{:.1f} {:.1f} share {:.3f}; lost {:.3f}, at the rim {:.3f}\n",
        is_wrongly_passed(j) ? "passed" : "refused", seed, name(kind), field, j.who.owner,
        first.receivers.front(), is_single(j) ? "" : " and others", name(j.word),
        j.standing.good.count(), j.standing.usable.count(), j.standing.alone_good.count(),
        j.standing.alone_usable.count(), j.share, j.flown.lost, j.flown.lost_at_rim);
}

std::vector<Judged> play(std::uint64_t seed, FieldKind kind, int fields, bool shows_wrong) {
    std::vector<Judged> all;
    for (int i = 0; i < fields; ++i) {
        auto rng = generator(seed, kind, i);
        const auto scene = random_field(rng, kind);
        for (auto& judged : judge(scene, rng, moments)) {
            if (shows_wrong && (is_wrongly_passed(judged) || is_wrongly_refused(judged)))
                print_wrong(seed, kind, i, judged);
            all.push_back(std::move(judged));
        }
    }
    return all;
}

template <class Which>
std::vector<Judged> those(const std::vector<Judged>& all, Which which) {
    std::vector<Judged> some;
    std::ranges::copy_if(all, std::back_inserter(some), which);
    return some;
}

/// Whether no awful flight was passed.
bool run(FieldKind kind, int fields, const std::vector<std::uint64_t>& seeds, bool shows_wrong) {
    std::vector<std::vector<Judged>> by_seed;
    std::vector<Judged> all;
    for (const auto seed : seeds) {
        by_seed.push_back(play(seed, kind, fields, shows_wrong));
        std::ranges::copy(by_seed.back(), std::back_inserter(all));
    }
    fmt::print("\n{:<30}{:>6}{:>11}{:>11}{:>7}{:>14}\n", name(kind), "count", "passed w.",
               "refused w.", "awful", "share off by");
    for (std::size_t i = 0; i < seeds.size(); ++i) {
        print_line(fmt::format("seed {}, one receiver", seeds[i]), those(by_seed[i], is_single));
        print_line(fmt::format("seed {}, several together", seeds[i]),
                   those(by_seed[i], std::not_fn(is_single)));
    }
    for (const auto sort : sorts)
        print_line(name(sort), those(all, [&](const Judged& j) { return j.sort == sort; }));
    print_words("one receiver", those(all, is_single));
    print_words("several together", those(all, std::not_fn(is_single)));
    return std::ranges::none_of(all, is_awful_passed);
}

constexpr int draws = 8;
constexpr double changed_sides_max = 0.01;

/// A line of the table of outlooks.
void print_outlooks(std::string_view of, const std::vector<Drawn>& all, bool may_change) {
    const auto changed = std::ranges::count_if(all, changes_side);
    const double share =
        all.empty() ? 0 : static_cast<double>(changed) / static_cast<double>(all.size());
    fmt::print("  {:<28}{:>8}{:>10}{:>8.2f} %{}\n", of, all.size(), changed, 100 * share,
               !may_change && share > changed_sides_max ? '*' : ' ');
}

void run_guesses(FieldKind kind, int fields, const std::vector<std::uint64_t>& seeds) {
    fmt::print("\n{:<30}{:>8}{:>10}{:>10}\n", name(kind), "count", "changed", "share");
    for (const auto seed : seeds) {
        std::vector<Drawn> held, open;
        std::map<Verdict, std::vector<Drawn>> by_word;
        for (int i = 0; i < fields; ++i) {
            auto rng = generator(seed, kind, i);
            const auto field = random_field(rng, kind);
            for (const auto& one : draw(rng, field, draws)) {
                (holds(one) ? held : open).push_back(one);
                if (holds(one)) by_word[one.word].push_back(one);
            }
        }
        print_outlooks(fmt::format("seed {}, holds", seed), held, false);
        print_outlooks(fmt::format("seed {}, rests on a guess", seed), open, true);
        for (const auto& [word, list] : by_word)
            print_outlooks(fmt::format("  holds, {}", name(word)), list, true);
    }
}

}  // namespace
}  // namespace fieldpeg::testing

int main(int count, char** arguments) {
    std::vector<std::string> given(arguments + 1, arguments + count);
    const bool shows_wrong = std::erase(given, "--wrong") > 0;
    const bool draws_guesses = std::erase(given, "--guesses") > 0;
    if (given.size() < 2) {
        fmt::print(stderr, "monte_carlo [--wrong | --guesses] FIELDS SEED ...\n");
        return 2;
    }
    std::vector<std::uint64_t> seeds;
    for (std::size_t i = 1; i < given.size(); ++i) seeds.push_back(std::stoull(given[i]));
    const auto start = std::chrono::steady_clock::now();
    bool none_awful = true;
    const int fields = std::stoi(given[0]);
    for (const auto kind : fieldpeg::testing::field_kinds) {
        if (draws_guesses)
            fieldpeg::testing::run_guesses(kind, fields, seeds);
        else
            none_awful = fieldpeg::testing::run(kind, fields, seeds, shows_wrong) && none_awful;
    }
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - start;
    fmt::print("\n{:.0f} s\n", took.count());
    return none_awful ? 0 : 1;
}
