#include "server/planner/part.h"

#include "server/planner/twins.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::planner {
namespace {

/// Copies piece after piece.
class Part {
public:
    Part(const Problem& whole, const std::vector<std::size_t>& stations)
        : whole_(whole), stations_(stations), place_(whole.stations.size(), SIZE_MAX) {
        for (std::size_t i = 0; i < stations.size(); ++i) place_[stations[i]] = i;
    }

    Problem make() {
        part_.bands = whole_.bands;
        part_.profiles = whole_.profiles;
        part_.pair_gain = whole_.pair_gain;
        part_.triple_gain = whole_.triple_gain;
        part_.product_reach = whole_.product_reach;
        for (const auto s : stations_) {
            part_.stations.push_back(whole_.stations[s]);
            part_.stations.back().groups = ~std::uint64_t{0};
        }
        add_ears();
        add_goals();
        add_joints();
        add_made();
        mark_twins(part_);
        return std::move(part_);
    }

private:
    void add_ears() {
        ear_.assign(whole_.ears.size(), SIZE_MAX);
        for (std::size_t e = 0; e < whole_.ears.size(); ++e) {
            const auto& from = whole_.ears[e];
            if (place_[from.station] == SIZE_MAX) continue;
            ear_[e] = part_.ears.size();
            auto& ear = part_.ears.emplace_back(from);
            ear.station = place_[from.station];
            ear.path.clear();
            for (const auto s : stations_)
                for (std::size_t band = 0; band < whole_.bands.size(); ++band)
                    ear.path.push_back(from.path[whole_.seat(s, band)]);
        }
    }
    void add_goals() {
        goal_.assign(whole_.goals.size(), SIZE_MAX);
        for (std::size_t g = 0; g < whole_.goals.size(); ++g) {
            if (ear_[whole_.goals[g].front()] == SIZE_MAX) continue;
            goal_[g] = part_.goals.size();
            auto& goal = part_.goals.emplace_back();
            for (const auto e : whole_.goals[g]) goal.push_back(ear_[e]);
            if (!whole_.held_db.empty()) part_.held_db.push_back(whole_.held_db[g]);
        }
    }
    void add_joints() {
        for (const auto& from : whole_.joints) {
            const auto is_out = [&](std::size_t e) { return ear_[e] == SIZE_MAX; };
            if (goal_[from.goal] == SIZE_MAX || std::ranges::any_of(from.ears, is_out)) continue;
            auto& joint = part_.joints.emplace_back(from);
            joint.goal = goal_[from.goal];
            for (auto& e : joint.ears) e = ear_[e];
        }
    }
    void add_made() {
        if (whole_.made.empty()) return;
        for (const auto host : stations_)
            for (const auto other : stations_)
                for (std::size_t band = 0; band < whole_.bands.size(); ++band)
                    part_.made.push_back(whole_.made_by(host, other, band));
    }

    const Problem& whole_;
    const std::vector<std::size_t>& stations_;
    std::vector<std::size_t> place_, ear_, goal_;  ///< in the part; SIZE_MAX: not in it
    Problem part_;
};

}  // namespace

Problem part_of(const Problem& problem, const std::vector<std::size_t>& stations) {
    return Part(problem, stations).make();
}

}  // namespace fieldpeg::planner
