#include "server/planner/twins.h"

#include <algorithm>
#include <vector>

namespace fieldpeg::planner {
namespace {

class Likeness {
public:
    explicit Likeness(const Problem& problem)
        : problem_(problem), ears_of_(problem.stations.size()) {
        for (std::size_t g = 0; g < problem.goals.size(); ++g)
            for (const auto e : problem.goals[g]) ears_of_[problem.ears[e].station].push_back(e);
        for (const auto* pairs : {&problem.apart, &problem.together, &problem.same})
            for (const auto& [a, b] : *pairs) bound_.insert(bound_.end(), {a, b});
        for (const auto& joint : problem.joints)  // who can tell what it makes of them
            for (const auto e : joint.ears) bound_.push_back(problem.ears[e].station);
    }

    bool alike(std::size_t s, std::size_t t) const {
        const auto &a = problem_.stations[s], &b = problem_.stations[t];
        return a.looks == b.looks && a.kind == b.kind && a.powers == b.powers &&
               a.channels == b.channels && a.groups == b.groups && hold_alike(s, t) &&
               !is_bound(s) && !is_bound(t) && hear_alike(s, t) && are_heard_alike(s, t) &&
               make_alike(s, t);
    }

private:
    bool hold_alike(std::size_t s, std::size_t t) const {
        const auto& [is_head, most, spread, kept, changes] = problem_.roster;
        return (is_head.empty() || is_head[s] == is_head[t]) &&
               (kept.empty() || kept[s] == kept[t]);
    }
    bool is_bound(std::size_t s) const { return std::ranges::find(bound_, s) != bound_.end(); }
    /// Ears of one against ears of the other, in their order.
    bool hear_alike(std::size_t s, std::size_t t) const {
        return std::ranges::equal(ears_of_[s], ears_of_[t], [&](std::size_t e, std::size_t f) {
            const auto &a = problem_.ears[e], &b = problem_.ears[f];
            if (a.profile != b.profile || a.signal != b.signal || a.close != b.close) return false;
            for (std::size_t x = 0; x < problem_.stations.size(); ++x)
                if (!same_path(a, x, b, x == s ? t : x == t ? s : x)) return false;
            return true;
        });
    }
    bool are_heard_alike(std::size_t s, std::size_t t) const {
        return std::ranges::all_of(problem_.ears, [&](const Ear& ear) {
            return ear.station == s || ear.station == t || same_path(ear, s, ear, t);
        });
    }
    bool same_path(const Ear& a, std::size_t x, const Ear& b, std::size_t y) const {
        for (std::size_t band = 0; band < problem_.bands.size(); ++band)
            if (a.path[problem_.seat(x, band)] != b.path[problem_.seat(y, band)]) return false;
        return true;
    }
    bool make_alike(std::size_t s, std::size_t t) const {
        for (std::size_t band = 0; band < problem_.bands.size(); ++band) {
            const auto made = [&](std::size_t host, std::size_t other) {
                return problem_.made_by(host, other, band);
            };
            for (std::size_t x = 0; x < problem_.stations.size(); ++x)
                if (x != s && x != t && (made(s, x) != made(t, x) || made(x, s) != made(x, t)))
                    return false;
            if (made(s, t) != made(t, s)) return false;
        }
        return true;
    }

    const Problem& problem_;
    std::vector<std::vector<std::size_t>> ears_of_;
    std::vector<std::size_t> bound_;
};

}  // namespace

void mark_twins(Problem& problem) {
    const Likeness likeness(problem);
    for (std::size_t s = 0; s < problem.stations.size(); ++s) {
        problem.stations[s].twins = s;
        for (std::size_t t = 0; t < s; ++t) {
            if (problem.stations[t].twins != t || !likeness.alike(t, s)) continue;
            problem.stations[s].twins = t;
            break;
        }
    }
}

}  // namespace fieldpeg::planner
