#include "server/planner/problem.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace fieldpeg::planner {
namespace {

/// One ear under a choice: every pair and triple, one after the other.
class Sum {
public:
    Sum(const Problem& problem, const Choice& choice, const Ear& ear)
        : problem_(problem),
          choice_(choice),
          ear_(ear),
          profile_(problem.profiles[ear.profile]),
          kinds_(problem.pair_gain.size()),
          here_(step(ear.station)) {
        for (std::size_t s = 0; s < choice.size(); ++s)
            if (s != ear.station && choice[s].group == choice[ear.station].group)
                others_.push_back(s);
    }

    EarNow now() const {
        double others = 0;
        for (const auto s : others_) others += arriving(s);
        return {choice_[ear_.station].band,
                problem_.stations[ear_.station].powers[choice_[ear_.station].power] *
                    problem_.front(profile_, here_),
                (profile_.noise + interference()) / desensitisation(others / profile_.blocking)};
    }
    double margin_db() const {
        const auto [band, sent, floor] = now();
        return 10 * std::log10(std::min(ear_.signal[band] * sent / floor, ear_.close[band] / sent));
    }

private:
    std::int64_t step(std::size_t s) const {
        return problem_.bands[choice_[s].band][choice_[s].channel];
    }
    std::size_t kind(std::size_t s) const { return problem_.stations[s].kind; }
    double path(std::size_t s) const { return ear_.path[problem_.seat(s, choice_[s].band)]; }
    double power(std::size_t s) const { return problem_.stations[s].powers[choice_[s].power]; }
    double arriving(std::size_t s) const {
        return power(s) * path(s) * problem_.front(profile_, step(s));
    }

    double interference() const {
        double sum = 0;
        for (const auto a : others_) {
            sum += arriving(a) * profile_.leak[kind(a)](std::abs(step(a) - here_));
            if (!problem_.made.empty()) sum += made_in(ear_.station, a) + made_elsewhere(a);
        }
        return profile_.iip3 == INFINITY ? sum : sum + received_products();
    }
    double made_elsewhere(std::size_t b) const {
        double sum = 0;
        for (const auto a : others_)
            if (a != b) sum += made_in(a, b);
        return sum;
    }
    double made_in(std::size_t a, std::size_t b) const {
        const std::int64_t product = std::abs(2 * step(a) - step(b));
        const double made = power(b) * problem_.made_by(a, b, choice_[b].band);
        if (made == 0) return 0;
        return made * path(a) * problem_.front(profile_, product) *
               left(profile_.two[kind(a) * kinds_ + kind(b)], product);
    }
    double received_products() const {
        double sum = 0;
        for (const auto a : others_) {
            for (const auto b : others_) {
                if (b == a) continue;
                sum +=
                    problem_.pair_gain[kind(a)] * arriving(a) * arriving(a) * arriving(b) *
                    left(profile_.two[kind(a) * kinds_ + kind(b)], std::abs(2 * step(a) - step(b)));
                if (b > a) sum += with_third(a, b);
            }
        }
        return sum / (profile_.iip3 * profile_.iip3);
    }
    double with_third(std::size_t a, std::size_t b) const {
        double sum = 0;
        for (const auto c : others_)
            if (c != a && c != b)
                sum += problem_.triple_gain * arriving(a) * arriving(b) * arriving(c) *
                       left(profile_.three[(kind(a) * kinds_ + kind(b)) * kinds_ + kind(c)],
                            std::abs(step(a) + step(b) - step(c)));
        return sum;
    }
    double left(const Falloff& curve, std::int64_t product) const {
        const std::int64_t off = std::abs(product - here_);
        return off <= problem_.product_reach ? curve(off) : 0;
    }

    const Problem& problem_;
    const Choice& choice_;
    const Ear& ear_;
    const Profile& profile_;
    std::size_t kinds_;
    std::int64_t here_;
    std::vector<std::size_t> others_;
};

}  // namespace

double desensitisation(double x) {
    // (1 - 2x)^2 to the bend at 1/4, there -6 dB and falling 2 dB a dB [docs/model.md, section 6].
    return x <= 0.25 ? (1 - 2 * x) * (1 - 2 * x) : 1 / (64 * x * x);
}

bool is_open(const Problem& problem) {
    const std::uint64_t all =
        problem.groups >= 64 ? ~std::uint64_t{0} : (std::uint64_t{1} << problem.groups) - 1;
    return std::ranges::all_of(problem.stations, [&](const Station& s) {
        return (s.groups & all) != 0 && !s.powers.empty() &&
               std::ranges::any_of(s.channels, [](std::uint64_t word) { return word != 0; });
    });
}

std::vector<double> margins_db(const Problem& problem, const Choice& choice) {
    std::vector<double> goals;
    for (const auto& goal : problem.goals) {
        double best = -INFINITY;
        for (const auto e : goal)
            best = std::max(best, Sum(problem, choice, problem.ears[e]).margin_db());
        goals.push_back(best);
    }
    for (const auto& joint : problem.joints) {
        std::vector<EarNow> now;
        for (const auto e : joint.ears) {
            const auto& ear = problem.ears[e];
            if (choice[ear.station].group != choice[problem.ears[joint.ears.front()].station].group)
                break;
            now.push_back(Sum(problem, choice, ear).now());
        }
        if (now.size() == joint.ears.size())
            goals[joint.goal] = std::min(goals[joint.goal], joint.margin_db(now));
    }
    return goals;
}

double worst_margin_db(const Problem& problem, const Choice& choice) {
    double least = INFINITY;
    const auto all = margins_db(problem, choice);
    for (std::size_t g = 0; g < all.size(); ++g) {
        if (!problem.is_held(g))
            least = std::min(least, all[g]);
        else if (all[g] < *problem.held_db[g])
            return -INFINITY;
    }
    return least;
}

}  // namespace fieldpeg::planner
