#pragma once

#include <cmath>
#include <compare>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <utility>
#include <vector>

/// What the search sees: stations to be put on channels, ears whose margin falls as others come
/// near. It knows no radio, so that it can be held against problems that are not ours. Powers are
/// in one linear unit, frequencies and their distances in whole steps.
namespace fieldpeg::planner {

/// Channels of one band, ascending, so that a set of them is one word.
using Band = std::vector<std::int64_t>;
inline constexpr std::size_t band_size_max = 64;

/// Share of a power that is left at a distance in steps, which is never negative; never rising.
using Falloff = std::function<double(std::int64_t)>;

struct Station {
    std::size_t kind = 0;                      ///< which curves its signal follows
    std::vector<double> powers;                ///< what it can be set to
    std::vector<std::uint64_t> channels;       ///< which it may take, a word for each band
    std::uint64_t groups = ~std::uint64_t{0};  ///< which flight groups it may fly in
    std::size_t looks = 0;  ///< what the tables do not tell apart may yet differ: then this does
    std::size_t twins = 0;  ///< stations of one number are alike in everything and may be swapped
};

/// How an ear weighs what reaches it.
struct Profile {
    double noise = 0;
    double blocking = INFINITY;       ///< others' power weakens what is wanted by its share of this
    double iip3 = INFINITY;           ///< input third-order intercept point; infinite: no products
    std::int64_t lowest = INT64_MIN;  ///< what lies outside lowest..highest is weakened first ...
    std::int64_t highest = INT64_MAX;
    double outside = 1;          ///< ... to this share
    std::vector<Falloff> leak;   ///< [kind]
    std::vector<Falloff> two;    ///< of 2A-B, [A][B]
    std::vector<Falloff> three;  ///< of A+B-C, [A][B][C]
};

/// One receiver in one geometry. Its margin, T being the power of all others, is the lesser of
///
///     signal * own power * desensitisation(T / blocking) / (noise + interference)
///
/// and close / own power.
struct Ear {
    std::size_t station = 0;  ///< whose signal it wants: it is tuned to where that station is
    std::size_t profile = 0;
    std::vector<double> signal;  ///< [band] of its station: per power, less what it requires
    std::vector<double> close;   ///< [band]: the same for what it may be too strong for
    std::vector<double> path;    ///< [station][band]: share of a power that arrives, unwanted
};

/// All ears want the same station, and the best of them counts.
using Goal = std::vector<std::size_t>;

/// How an ear stands.
struct EarNow {
    std::size_t band;  ///< its own station's
    double sent;       ///< of its own station's power, what its front end lets through
    double floor;      ///< noise and interference, greater by what T weakens the wanted signal
};

/// A margin that several ears, perhaps of several stations, make together. It counts where all
/// their stations fly in one group. The goals of its ears are to be easier than it is.
struct Joint {
    std::vector<std::size_t> ears;
    std::size_t goal;  ///< the one whose demand it has to meet
    /// Rises with what is sent or has a limit of its own; falls with every floor.
    std::function<double(std::span<const EarNow>)> margin_db;
};

/// What a station holds.
struct Kept {
    static constexpr std::pair<std::size_t, std::size_t> gone_channel{SIZE_MAX, SIZE_MAX};
    static constexpr std::size_t gone_group = SIZE_MAX;

    std::optional<std::pair<std::size_t, std::size_t>> channel;  ///< band and channel in it
    std::optional<std::size_t> group;

    bool operator==(const Kept&) const = default;
};

/// How large groups may be, and how much may be changed.
struct Roster {
    std::vector<bool> is_head;           ///< [station] that counts; empty: sizes do not matter
    std::size_t most = SIZE_MAX;         ///< in a group
    std::size_t spread_max = SIZE_MAX;   ///< the largest group less the smallest
    std::vector<Kept> kept;              ///< [station]; empty: nobody holds anything
    std::size_t changes_max = SIZE_MAX;  ///< of channels and groups held
};

struct Problem {
    std::vector<Band> bands;
    std::vector<Station> stations;
    std::vector<Profile> profiles;
    std::vector<Ear> ears;
    std::vector<Goal> goals;
    std::vector<Joint> joints;
    /// [goal]: what it is held to in dB, counting no further; empty: all count.
    std::vector<std::optional<double>> held_db;
    std::vector<double> pair_gain;   ///< [kind]: of 2A-B over A A B, the kind being A's
    double triple_gain = 4;          ///< of A+B-C over A B C
    std::vector<double> made;        ///< [host][other][band of other]: of 2 host - other, per power
    std::int64_t product_reach = 0;  ///< products farther from an ear do not count
    std::size_t groups = 1;          ///< stations of different groups do not meet
    std::vector<std::pair<std::size_t, std::size_t>> apart;     ///< never in one group
    std::vector<std::pair<std::size_t, std::size_t>> together;  ///< always in one group
    /// In two groups, but always on one channel with one power.
    std::vector<std::pair<std::size_t, std::size_t>> same;
    Roster roster;

    std::size_t seat(std::size_t station, std::size_t band) const {
        return station * bands.size() + band;
    }
    double front(const Profile& profile, std::int64_t step) const {
        return step < profile.lowest || step > profile.highest ? profile.outside : 1;
    }
    bool is_held(std::size_t goal) const { return !held_db.empty() && held_db[goal].has_value(); }
    /// What a goal must reach if those that count are to reach a target.
    double demand_db(std::size_t goal, double target_db) const {
        return is_held(goal) ? *held_db[goal] : target_db;
    }
    double made_by(std::size_t host, std::size_t other, std::size_t band) const {
        return made.empty() ? 0 : made[host * stations.size() * bands.size() + seat(other, band)];
    }
};

/// Where a station is put.
struct Pick {
    std::size_t group = 0;
    std::size_t band = 0;
    std::size_t channel = 0;  ///< in its band
    std::size_t power = 0;    ///< in its list

    auto operator<=>(const Pick&) const = default;
};
using Choice = std::vector<Pick>;

/// What each station holds, if anything.
using Holds = std::vector<std::optional<Pick>>;

/// Changes that a pick, or a choice, makes to what is held.
std::size_t changes(const Kept& kept, const Pick& pick);
std::size_t changes(const Roster& roster, const Choice& choice);
/// [group]: how many there are who count.
std::vector<std::size_t> sizes(const Problem& problem, const Choice& choice);
/// Whether everybody flies with whom they are to, and as the roster allows.
bool is_lawful(const Problem& problem, const Choice& choice);

/// By how much others' power, as a share of `blocking`, weakens the wanted signal: 1 is not at all.
double desensitisation(double share_of_blocking);

/// Whether everybody has something to choose from and knows where they may fly.
bool is_open(const Problem& problem);

/// The margin of each goal in dB, or of its joint where there is one, by the tables alone and
/// without any short cut.
std::vector<double> margins_db(const Problem& problem, const Choice& choice);

/// The least of those that count; infinite if there are none, minus infinite if one that is held
/// falls short.
double worst_margin_db(const Problem& problem, const Choice& choice);

}  // namespace fieldpeg::planner
