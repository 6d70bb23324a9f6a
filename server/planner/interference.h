#pragma once

#include "server/planner/levels.h"
#include "server/planner/problem.h"

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

namespace fieldpeg::planner {

/// What every ear suffers from the stations put so far, on each channel its station may yet take.
/// Putting a station adds levels; taking the last one back restores what was, to the bit.
///
/// No margin comes out lower than it is, but for `rounding_db`, and putting a station makes none
/// higher: what does not fit now fits in no completion. Some come out higher, since what matters
/// little is left out.
///
/// Memory: 256 bytes for each ear, band and station put, beside `LevelTables`.
class Interference {
public:
    static constexpr double rounding_db = 0.001;

    Interference(const Problem& problem, LevelTables& levels);

    /// What `put` and `fits` hold margins against from now on.
    void set_target_db(double target_db);

    /// False if somebody put before, or the station itself, no longer reaches the target: then all
    /// there is to do is to take it back.
    bool put(std::size_t station, const Pick& pick);
    void take_back();

    bool is_put(std::size_t station) const { return picks_[station].has_value(); }
    const Pick& pick(std::size_t station) const { return *picks_[station]; }
    std::size_t count() const { return count_; }

    /// The channels, out of some, on which a station not yet put would reach the target and leave
    /// those put there above it. `where.channel` does not matter.
    std::uint64_t fits(std::size_t station, const Pick& where, std::uint64_t channels) const;
    /// How much of its room a station would use on a channel: above 1 it does not fit.
    double used(std::size_t station, const Pick& where) const;

private:
    struct Mark {
        std::size_t station;
        std::size_t slices;                                           ///< how many there were
        std::vector<std::pair<std::size_t, std::uint32_t>> replaced;  ///< [slot], and what it held
        std::vector<float> heard;
        std::vector<float> left;
        std::vector<double> blockers;
    };
    /// A product of stations put, c being `none` for 2a-b.
    struct Product {
        static constexpr std::size_t none = SIZE_MAX;
        std::size_t a, b, c;
        std::int64_t step;
    };
    static constexpr std::uint32_t no_slice = UINT32_MAX;

    bool all_fit(std::size_t group);
    bool all_join(std::size_t group) const;
    float left(std::size_t ear, const Pick& at) const;
    std::int64_t step(std::size_t s) const;
    std::size_t slot(std::size_t ear, std::size_t group, std::size_t band) const {
        return (ear * problem_.groups + group) * problem_.bands.size() + band;
    }
    void count_least_power(std::size_t ear);
    void see_which_products_matter(std::size_t ear, const std::vector<double>& radiated);
    void add_slices(std::size_t ear);
    std::optional<std::size_t> only_band(std::size_t station) const;
    void add_least(std::size_t ear, std::size_t band, std::size_t station, Levels& level) const;
    float least_at(std::size_t ear, std::size_t station) const;
    void find_products_with(std::size_t station);
    void add_power(std::size_t ear, std::size_t station);
    void add_to_all_levels(std::size_t ear, std::size_t station);
    void add_to_levels(std::size_t ear, std::size_t band, std::size_t station, Levels& level);
    float added_at(std::size_t ear, std::size_t station);
    void add_made_in_own(std::size_t ear, std::size_t band, std::size_t station, Levels& level);
    template <class Add>
    void for_each_product(std::size_t ear, std::size_t band, Add add);
    double product_power(const Ear& ear, const Product& product) const;
    double room(std::size_t ear, std::size_t group, std::size_t band, std::size_t power) const;
    std::uint64_t hears_well(std::size_t ear, const Pick& where, std::uint64_t channels) const;
    std::uint64_t spares(std::size_t ear, std::size_t station, const Pick& where,
                         std::uint64_t channels) const;

    const Problem& problem_;
    LevelTables& levels_;
    double negligible_;                  ///< products weaker than this are left out, in noises
    std::vector<bool> products_matter_;  ///< [ear]: whether any is not
    bool any_product_matters_ = false;
    std::vector<bool> own_makes_;  ///< [ear]: whether products made in its own station matter
    std::vector<std::vector<std::size_t>> goals_of_;  ///< [station]
    double target_db_ = 0;
    std::vector<Levels> slices_;        ///< interference in noises
    std::vector<std::uint32_t> slice_;  ///< [slot]
    std::vector<double> target_;        ///< [ear]
    std::vector<float> heard_;          ///< [ear] of stations put: interference in noises
    std::vector<float> left_;           ///< [ear] of stations put: how many more it stands
    std::vector<double> blockers_;      ///< [ear][group]: others' power, at least
    std::vector<double> least_;         ///< [ear][station]: what of it counts before it is put
    std::vector<std::optional<std::size_t>> only_band_;  ///< [station]
    std::vector<double> arriving_;                       ///< [ear][station] of stations put
    std::vector<std::optional<Pick>> picks_;
    std::vector<std::vector<std::size_t>> members_;  ///< [group]: stations put
    std::vector<Product> products_;                  ///< of the station put last
    std::vector<Mark> trail_;
    std::size_t count_ = 0;
};

}  // namespace fieldpeg::planner
