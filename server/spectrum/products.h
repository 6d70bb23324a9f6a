#pragma once

#include "server/spectrum/link.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <map>
#include <span>
#include <utility>
#include <vector>

/// The sums over third-order products, formed between carriers: the transmitters that share a
/// frequency and a kind of emission. Used by margin.cc.
namespace fieldpeg::spectrum {

/// A power in mW in both geometries, in the order of `geometries`.
struct PowerPair {
    double usual = 0;
    double closest = 0;

    double operator[](std::size_t g) const { return g == 0 ? usual : closest; }
    PowerPair& operator+=(const PowerPair& o) {
        usual += o.usual;
        closest += o.closest;
        return *this;
    }
    friend PowerPair operator+(PowerPair a, const PowerPair& b) { return a += b; }
    friend PowerPair operator-(const PowerPair& a, const PowerPair& b) {
        return {a.usual - b.usual, a.closest - b.closest};
    }
    friend PowerPair operator*(const PowerPair& a, const PowerPair& b) {
        return {a.usual * b.usual, a.closest * b.closest};
    }
    friend PowerPair operator*(double k, const PowerPair& a) {
        return {k * a.usual, k * a.closest};
    }
};

/// Power sums over the members of one carrier, and how many they are: what is needed to count each
/// combination of different transmitters once.
struct CarrierSums {
    std::size_t members = 0;
    PowerPair first, second, third;  ///< sums of P, P^2, P^3
};

/// A third-order product between carriers: 2a-b (c is none), or a+b-c with a <= b.
struct ProductTerm {
    static constexpr std::size_t none = SIZE_MAX;
    std::size_t a, b, c;
    Hertz product;
    double left;    ///< share that the receiver's selectivity leaves
    double weight;  ///< level before division by IIP3^2, mW^3
};

/// The carriers of a scene: kind by kind of emission, each in order of frequency. Frequencies are
/// counted in steps of the grid, as RejectionTables counts them.
class Carriers {
public:
    /// The carriers [begin, end) of one kind of emission.
    struct Kind {
        std::size_t begin, end;
    };

    Carriers(const Scene& scene, Hertz grid);

    std::size_t size() const { return steps_.size(); }
    std::int64_t step(std::size_t i) const { return steps_[i]; }
    std::span<const std::int64_t> steps() const { return steps_; }
    std::int64_t steps_of(Hertz frequency) const { return frequency.count() / grid_.count(); }
    Hertz frequency(std::int64_t steps) const { return Hertz(steps * grid_.count()); }
    std::int64_t reach() const { return steps_of(product_reach); }

    std::span<const Kind> kinds() const { return kinds_; }
    std::size_t emission(std::size_t i) const { return emissions_[i]; }
    bool constant_envelope(std::size_t i) const { return constant_envelope_[i]; }
    std::span<const std::size_t> members(std::size_t i) const { return members_[i]; }
    std::size_t of(std::size_t transmitter) const { return carrier_of_[transmitter]; }

    /// Power sums of each carrier, those left out that are absent.
    std::vector<CarrierSums> sums(std::span<const PowerPair> received,
                                  std::span<const std::size_t> absent) const;

    /// Which transmitters make a product: the `most` strongest combinations, and some more.
    std::vector<std::vector<std::size_t>> makers(const ProductTerm& term,
                                                 std::span<const PowerPair> received,
                                                 std::span<const std::size_t> absent, std::size_t g,
                                                 std::size_t most) const;

private:
    Hertz grid_;
    std::vector<Kind> kinds_;
    std::vector<std::int64_t> steps_;
    std::vector<std::size_t> emissions_;
    std::vector<bool> constant_envelope_;
    std::vector<std::vector<std::size_t>> members_;
    std::vector<std::size_t> carrier_of_;
};

/// Sum of all products made in a receiver tuned to `tuned`, before division by IIP3^2.
PowerPair receiver_product_sum(const Carriers& carriers, std::span<const CarrierSums> sums,
                               RejectionTables& tables, std::size_t profile, Hertz tuned);

/// The strongest of those products, at most `most`.
std::vector<ProductTerm> strongest_receiver_products(const Carriers& carriers,
                                                     std::span<const CarrierSums> sums,
                                                     RejectionTables& tables, std::size_t profile,
                                                     Hertz tuned, std::size_t g, std::size_t most);

/// What every transmitter radiates of products with each carrier that leaks into it, conversion
/// loss taken off; the same for all receivers.
class Intruders {
public:
    Intruders(const Scene& scene, const LinkTable& links, const Carriers& carriers,
              std::span<const double> powers_mw);

    /// Sum over all intruders of what each host radiates into one channel of a receiver: what the
    /// front end and the selectivity leave of it, the way apart. Once for a channel and profile.
    const std::vector<double>& radiated(const Carriers& carriers, RejectionTables& tables,
                                        const Scene& scene, std::size_t profile, Hertz tuned);
    /// What one intruder makes a host radiate.
    double single_mw(std::size_t host, std::size_t intruder) const {
        return single_mw_[host * transmitters_ + intruder];
    }

    /// Calls visit(host, carrier, product, radiated_mw) for every product within reach of `tuned`,
    /// product in steps. Those absent do not intrude.
    template <class Visit>
    void for_each(const Carriers& carriers, Hertz tuned, std::span<const std::size_t> absent,
                  Visit visit) const;

private:
    double without(const Carriers& carriers, std::size_t host, std::size_t carrier,
                   std::span<const std::size_t> absent) const;

    std::size_t transmitters_;
    std::size_t carriers_;
    std::vector<double> single_mw_;   ///< [host][intruder]
    std::vector<double> carrier_mw_;  ///< [host][carrier]
    std::map<std::pair<std::size_t, Hertz>, std::vector<double>> radiated_;
};

/// The carriers of one kind within reach of a target, found again quickly as the target rises.
class Window {
public:
    Window(const Carriers& carriers, Carriers::Kind kind)
        : steps_(carriers.steps()),
          reach_(carriers.reach()),
          begin_(kind.begin),
          end_(kind.begin),
          last_(kind.end) {}

    void move_to(std::int64_t target) {
        while (begin_ < last_ && steps_[begin_] < target - reach_) ++begin_;
        if (end_ < begin_) end_ = begin_;
        while (end_ < last_ && steps_[end_] <= target + reach_) ++end_;
    }
    std::size_t begin() const { return begin_; }
    std::size_t end() const { return end_; }

private:
    std::span<const std::int64_t> steps_;
    std::int64_t reach_;
    std::size_t begin_, end_, last_;
};

template <class Visit>
void Intruders::for_each(const Carriers& carriers, Hertz tuned, std::span<const std::size_t> absent,
                         Visit visit) const {
    const auto is_of_absent = [&](std::size_t carrier) {
        return std::ranges::any_of(absent, [&](auto t) { return carriers.of(t) == carrier; });
    };
    const std::int64_t channel = carriers.steps_of(tuned);
    const auto meet = [&](std::size_t a, std::size_t b) {
        const std::int64_t product = std::abs(2 * carriers.step(a) - carriers.step(b));
        for (const std::size_t host : carriers.members(a)) {
            const double mw = is_of_absent(b) ? without(carriers, host, b, absent)
                                              : carrier_mw_[host * carriers_ + b];
            if (mw > 0) visit(host, b, product, mw);
        }
    };
    // A product is taken at its absolute frequency, so 2 f_a - f_b = tuned and f_b - 2 f_a = tuned
    // both count: two windows for f_b.
    for (const std::int64_t side : {-1, 1}) {
        for (const auto& hosts : carriers.kinds()) {
            for (const auto& intruders : carriers.kinds()) {
                Window window(carriers, intruders);
                for (std::size_t a = hosts.begin; a < hosts.end; ++a) {
                    window.move_to(2 * carriers.step(a) + side * channel);
                    for (std::size_t b = window.begin(); b < window.end(); ++b) meet(a, b);
                }
            }
        }
    }
}

}  // namespace fieldpeg::spectrum
