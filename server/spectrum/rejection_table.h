#pragma once

#include "server/spectrum/intermodulation.h"
#include "server/spectrum/scene.h"

#include <cstddef>
#include <functional>
#include <memory>
#include <unordered_map>
#include <vector>

namespace fieldpeg::spectrum {

/// The harmonic n of an emission is looked at within n times this of a channel.
inline constexpr Hertz harmonic_reach = 40_MHz;

/// A function of a frequency distance, worked out once for each distance that occurs.
///
/// Distances are counted in steps of the scene's grid (frequency_grid), mostly of 1 MHz, so that a
/// plain array holds them all; where the grid is finer than `dense_max` steps allow, a hash map
/// does.
class OffsetTable {
public:
    static constexpr std::int64_t dense_max = 1 << 12;

    OffsetTable(Hertz grid, Hertz limit, std::function<double(Hertz)> function);

    /// Requires 0 <= steps <= limit / grid.
    double at(std::int64_t steps) {
        if (dense_.empty()) return first_or_sparse(steps);
        double& value = dense_[static_cast<std::size_t>(steps)];
        if (value < 0) value = function_(Hertz(steps * grid_.count()));
        return value;
    }

    /// All values at once, by steps, for innermost loops; null where a hash map holds them.
    const double* all() {
        if (!complete_) complete();
        return dense_.empty() ? nullptr : dense_.data();
    }

private:
    double first_or_sparse(std::int64_t steps);
    void complete();

    Hertz grid_;
    std::function<double(Hertz)> function_;  ///< never negative
    std::size_t size_;           ///< of `dense_` once something is asked; 0: the map is used
    std::vector<double> dense_;  ///< negative: not worked out yet
    bool complete_ = false;
    std::unordered_map<std::int64_t, double> sparse_;
};

/// The largest step on which all frequencies of the scene, and so all its products, lie.
Hertz frequency_grid(const Scene& scene);

/// What receivers of a scene leave of emissions and of products, as power ratios. The tables fill
/// as they are asked; they stay right while emissions, profiles and the grid of frequencies do.
class RejectionTables {
public:
    explicit RejectionTables(const Scene& scene) : RejectionTables(scene, frequency_grid(scene)) {}
    RejectionTables(const Scene& scene, Hertz grid);

    /// The step in which the tables count.
    Hertz grid() const { return grid_; }

    /// What is left of an emission some steps away; nothing beyond the reach of both curves.
    double emission(std::size_t profile, std::size_t emission, std::int64_t steps);
    /// What is left of the harmonic n = 2, 3 of an emission, n times as wide; nothing from 40 n
    /// MHz.
    double harmonic(std::size_t profile, std::size_t emission, std::int64_t n, std::int64_t steps);
    /// The share of a signal at a frequency that a receiver's front end lets through.
    double through_front_end(std::size_t profile, Hertz frequency) const {
        const auto& f = front_ends_[profile];
        return f.low <= frequency && frequency <= f.high ? 1 : f.outside;
    }
    /// Noise of a receiver.
    Dbm noise(std::size_t profile) const { return noise_[profile]; }
    /// What is left of the product 2A-B, A and B being emissions.
    OffsetTable& two_signal(std::size_t profile, std::size_t a, std::size_t b);
    /// What is left of A+B-C.
    OffsetTable& three_signal(std::size_t profile, std::size_t a, std::size_t b, std::size_t c);

private:
    struct Entry {
        std::int64_t reach;  ///< in steps
        OffsetTable table;
    };

    /// One of a list of so many, made once it is asked for.
    template <class Sigma>
    OffsetTable& product(std::vector<std::unique_ptr<OffsetTable>>& tables, std::size_t size,
                         std::size_t at, std::size_t profile, Sigma sigma_mhz) const;

    Hertz grid_;
    std::size_t emissions_;
    struct FrontEnd {
        Hertz low, high;
        double outside;
    };
    std::vector<FrontEnd> front_ends_;
    std::vector<Dbm> noise_;
    std::vector<Entry> direct_;
    std::vector<Entry> harmonic_;
    /// The products whose A is one emission, by B and C; each made when it is first asked for,
    /// since of many emissions few are ever on the air together.
    struct Products {
        std::vector<std::unique_ptr<OffsetTable>> two_signal, three_signal;
    };
    std::vector<ProductShape> shapes_;
    std::vector<Selectivity> selectivities_;
    std::vector<Products> products_;
};

/// The tables of gear that was looked at before. A plain value that whoever assesses one scene
/// after another keeps between them; emissions, profiles and the grid are compared by value, and
/// tables of them are the same however far they are filled.
class RejectionMemory {
public:
    /// Those for a scene, in steps of a grid.
    std::shared_ptr<RejectionTables> tables(const Scene& scene, Hertz grid);

private:
    static constexpr std::size_t kept_max = 8;
    /// Finer ones have so many steps that they are not kept [ours].
    static constexpr Hertz finest_kept = 100_kHz;

    struct Known {
        std::vector<Emission> emissions;
        std::vector<ReceiverProfile> profiles;
        std::shared_ptr<RejectionTables> tables;
    };
    std::vector<Known> known_;  ///< the latest last
};

}  // namespace fieldpeg::spectrum
