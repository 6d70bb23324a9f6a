#include "server/spectrum/products.h"

#include "server/spectrum/margin.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cstdlib>
#include <map>
#include <utility>

namespace fieldpeg::spectrum {
namespace {

constexpr double triple_beat = 4;  // in power: the 6.02 dB of A+B-C over 2A-B

/// Sum of P_i P_j over ordered pairs of different members.
PowerPair ordered_pairs(const CarrierSums& s) {
    return s.members < 2 ? PowerPair{} : s.first * s.first - s.second;
}

/// Weight of all products 2A-C between members of two carriers, A and C different transmitters.
PowerPair two_signal_weight(std::span<const CarrierSums> sums, std::size_t a, std::size_t c) {
    const auto& sa = sums[a];
    if (a != c) return sa.second * sums[c].first;
    return sa.members < 2 ? PowerPair{} : sa.second * sa.first - sa.third;
}

/// Weight of all products A+B-C, {A, B} unordered, all three different transmitters.
PowerPair three_signal_weight(std::span<const CarrierSums> sums, std::size_t a, std::size_t b,
                              std::size_t c) {
    const auto &sa = sums[a], &sb = sums[b], &sc = sums[c];
    if (a != b && c != a && c != b) return triple_beat * (sa.first * sb.first * sc.first);
    if (a != b)
        return triple_beat * (c == a ? ordered_pairs(sa) * sb.first : ordered_pairs(sb) * sa.first);
    if (c != a) return triple_beat / 2 * (ordered_pairs(sa) * sc.first);
    if (sa.members < 3) return {};
    return triple_beat / 2 *
           (sa.first * sa.first * sa.first - 3 * (sa.first * sa.second) + 2 * sa.third);
}

/// Calls pair(a, b, target, begin, end) for all a <= b: with each carrier c in [begin, end), all
/// of one kind, the product a+b-c falls within reach of `tuned`, |target - c| steps off.
template <class Pair>
void for_each_pair(const Carriers& carriers, std::int64_t tuned, Pair pair) {
    const auto f = carriers.steps();
    const auto with = [&](std::size_t a, Carriers::Kind seconds, Carriers::Kind thirds,
                          std::int64_t side) {
        if (seconds.begin == seconds.end) return;
        const std::int64_t lowest = f[a] + f[seconds.begin] + side * tuned;
        if (lowest > f[thirds.end - 1] + carriers.reach()) return;
        Window window(carriers, thirds);
        for (std::size_t b = seconds.begin; b < seconds.end; ++b) {
            const std::int64_t target = f[a] + f[b] + side * tuned;
            window.move_to(target);
            if (window.begin() < window.end()) pair(a, b, target, window.begin(), window.end());
        }
    };
    for (const std::int64_t side : {-1, 1})  // absolute frequency: see Intruders::for_each
        for (std::size_t a = 0; a < f.size(); ++a)
            for (const auto& seconds : carriers.kinds())
                for (const auto& thirds : carriers.kinds())
                    with(a, {std::clamp(a, seconds.begin, seconds.end), seconds.end}, thirds, side);
}

/// The products of one receiver, before division by IIP3^2.
class ReceiverProducts {
public:
    ReceiverProducts(const Carriers& carriers, std::span<const CarrierSums> sums,
                     RejectionTables& tables, std::size_t profile, std::int64_t tuned)
        : carriers_(carriers), sums_(sums), tables_(tables), profile_(profile), tuned_(tuned) {
        for (const auto& s : sums) firsts_.push_back(s.first);
    }

    PowerPair sum() {
        PowerPair sum{};
        for_each_pair(carriers_, tuned_,
                      [&](std::size_t a, std::size_t b, std::int64_t target, std::size_t begin,
                          std::size_t end) {
                          sum += a == b ? of_one(a, target, begin, end)
                                        : of_two(a, b, target, begin, end);
                      });
        return sum;
    }

    /// Calls visit(term) for every product, weighed in geometry g.
    template <class Visit>
    void for_each(std::size_t g, Visit visit) {
        for_each_pair(
            carriers_, tuned_,
            [&](std::size_t a, std::size_t b, std::int64_t target, std::size_t begin,
                std::size_t end) {
                for (std::size_t c = begin; c < end; ++c) {
                    const Hertz product = carriers_.frequency(
                        std::abs(carriers_.step(a) + carriers_.step(b) - carriers_.step(c)));
                    if (a == b) {
                        const double left = two_left(a, c, target);
                        visit(ProductTerm{a, c, ProductTerm::none, product, left,
                                          gain(a) * left * two_signal_weight(sums_, a, c)[g]});
                    }
                    const double left = three_left(a, b, c, target);
                    visit(ProductTerm{a, b, c, product, left,
                                      left * three_signal_weight(sums_, a, b, c)[g]});
                }
            });
    }

private:
    double gain(std::size_t a) const { return carriers_.constant_envelope(a) ? 1 : 2; }
    double two_left(std::size_t a, std::size_t c, std::int64_t target) {
        return tables_.two_signal(profile_, carriers_.emission(a), carriers_.emission(c))
            .at(std::abs(target - carriers_.step(c)));
    }
    double three_left(std::size_t a, std::size_t b, std::size_t c, std::int64_t target) {
        return tables_
            .three_signal(profile_, carriers_.emission(a), carriers_.emission(b),
                          carriers_.emission(c))
            .at(std::abs(target - carriers_.step(c)));
    }

    /// 2A-C, and A+A'-C where the carrier has two members.
    PowerPair of_one(std::size_t a, std::int64_t target, std::size_t begin, std::size_t end) {
        PowerPair sum{};
        for (std::size_t c = begin; c < end; ++c) {
            sum += gain(a) * two_left(a, c, target) * two_signal_weight(sums_, a, c);
            if (sums_[a].members > 1)
                sum += three_left(a, a, c, target) * three_signal_weight(sums_, a, a, c);
        }
        return sum;
    }

    /// A+B-C: what A and B have in common is taken out of the sum over C.
    PowerPair of_two(std::size_t a, std::size_t b, std::int64_t target, std::size_t begin,
                     std::size_t end) {
        auto& table = tables_.three_signal(profile_, carriers_.emission(a), carriers_.emission(b),
                                           carriers_.emission(begin));
        const double* left = table.all();
        const PowerPair of_a = std::exchange(firsts_[a], {});  // C is neither A nor B
        const PowerPair of_b = std::exchange(firsts_[b], {});
        const auto over_c =
            left ? left_over(begin, end, target, [left](auto off) { return left[off]; })
                 : left_over(begin, end, target, [&](auto off) { return table.at(off); });
        firsts_[a] = of_a;
        firsts_[b] = of_b;
        PowerPair sum{};
        for (const std::size_t c : {a, b})
            if (begin <= c && c < end && sums_[c].members > 1)
                sum += three_left(a, b, c, target) * three_signal_weight(sums_, a, b, c);
        return sum + triple_beat * (of_a * of_b * over_c);
    }

    /// Sum over carriers C of what is left of a product with them. Plain sums in registers: this is
    /// where the whole assessment spends its time.
    template <class LeftAt>
    PowerPair left_over(std::size_t from, std::size_t to, std::int64_t target,
                        LeftAt left_at) const {
        const auto steps = carriers_.steps();
        double ref = 0, worst = 0;
        for (std::size_t c = from; c < to; ++c) {
            const double left = left_at(std::abs(target - steps[c]));
            ref += left * firsts_[c].ref;
            worst += left * firsts_[c].worst;
        }
        return {ref, worst};
    }

    const Carriers& carriers_;
    std::span<const CarrierSums> sums_;
    RejectionTables& tables_;
    std::size_t profile_;
    std::int64_t tuned_;
    std::vector<PowerPair> firsts_;  ///< side by side, for the innermost loop
};

void keep_strongest(std::vector<ProductTerm>& terms, std::size_t most) {
    const auto kept = std::min(most, terms.size());
    std::ranges::partial_sort(terms, terms.begin() + static_cast<std::ptrdiff_t>(kept),
                              std::greater<>{}, &ProductTerm::weight);
    terms.resize(kept);
}

}  // namespace

Carriers::Carriers(const Scene& scene, Hertz grid)
    : grid_(grid), carrier_of_(scene.transmitters.size()) {
    std::map<std::pair<std::size_t, std::int64_t>, std::vector<std::size_t>> found;
    for (std::size_t t = 0; t < scene.transmitters.size(); ++t) {
        const auto frequency = scene.transmitters[t].frequency.count();
        BOOST_ASSERT(frequency % grid.count() == 0);
        found[{scene.transmitters[t].emission, frequency / grid.count()}].push_back(t);
    }
    for (auto& [key, members] : found) {
        const auto& [emission, step] = key;
        if (emissions_.empty() || emissions_.back() != emission)
            kinds_.push_back({steps_.size(), steps_.size()});
        for (const auto t : members) carrier_of_[t] = steps_.size();
        steps_.push_back(step);
        emissions_.push_back(emission);
        constant_envelope_.push_back(scene.emissions[emission].constant_envelope);
        members_.push_back(std::move(members));
        kinds_.back().end = steps_.size();
    }
}

std::vector<CarrierSums> Carriers::sums(std::span<const PowerPair> received,
                                        std::size_t wanted) const {
    std::vector<CarrierSums> sums(size());
    for (std::size_t t = 0; t < received.size(); ++t) {
        if (t == wanted) continue;
        auto& s = sums[carrier_of_[t]];
        const PowerPair& p = received[t];
        ++s.members;
        s.first += p;
        s.second += p * p;
        s.third += p * p * p;
    }
    return sums;
}

std::vector<std::vector<std::size_t>> Carriers::makers(const ProductTerm& term,
                                                       std::span<const PowerPair> received,
                                                       std::size_t wanted, std::size_t g,
                                                       std::size_t most) const {
    const auto strongest = [&](std::size_t carrier) {
        std::vector<std::size_t> list;
        for (const auto t : members(carrier))
            if (t != wanted) list.push_back(t);
        std::ranges::stable_sort(list, std::greater<>{},
                                 [&](std::size_t t) { return received[t][g]; });
        if (list.size() > most) list.resize(most);
        return list;
    };
    // Of lists in order of power, a combination of ranks i, j, k has (i+1)(j+1)(k+1) - 1 before it
    // that are as strong, some of which may name one transmitter twice.
    const std::size_t ranks_max = 8 * most;
    const bool two = term.c == ProductTerm::none;
    const auto as = strongest(term.a), bs = strongest(term.b);
    const auto cs = two ? std::vector{ProductTerm::none} : strongest(term.c);
    std::vector<std::vector<std::size_t>> combinations;
    for (std::size_t i = 0; i < as.size(); ++i) {
        for (std::size_t j = 0; j < bs.size() && (i + 1) * (j + 1) <= ranks_max; ++j) {
            if (as[i] == bs[j] || (!two && term.a == term.b && bs[j] < as[i])) continue;
            for (std::size_t k = 0; k < cs.size() && (i + 1) * (j + 1) * (k + 1) <= ranks_max; ++k)
                if (cs[k] != as[i] && cs[k] != bs[j])
                    combinations.push_back(two ? std::vector{as[i], bs[j]}
                                               : std::vector{as[i], bs[j], cs[k]});
        }
    }
    return combinations;
}

PowerPair receiver_product_sum(const Carriers& carriers, std::span<const CarrierSums> sums,
                               RejectionTables& tables, std::size_t profile, Hertz tuned) {
    return ReceiverProducts(carriers, sums, tables, profile, carriers.steps_of(tuned)).sum();
}

std::vector<ProductTerm> strongest_receiver_products(const Carriers& carriers,
                                                     std::span<const CarrierSums> sums,
                                                     RejectionTables& tables, std::size_t profile,
                                                     Hertz tuned, std::size_t g, std::size_t most) {
    std::vector<ProductTerm> terms;
    ReceiverProducts(carriers, sums, tables, profile, carriers.steps_of(tuned))
        .for_each(g, [&](const ProductTerm& term) {
            if (term.weight <= 0) return;
            terms.push_back(term);
            if (terms.size() > 4 * most + 1024) keep_strongest(terms, most);
        });
    keep_strongest(terms, most);
    return terms;
}

Intruders::Intruders(const Scene& scene, const LinkTable& links, const Carriers& carriers,
                     std::span<const double> powers_mw)
    : transmitters_(scene.transmitters.size()),
      carriers_(carriers.size()),
      single_mw_(transmitters_ * transmitters_),
      carrier_mw_(transmitters_ * carriers_) {
    const double converted = 1 / linear(conversion_loss);
    for (std::size_t host = 0; host < transmitters_; ++host) {
        for (std::size_t b = 0; b < transmitters_; ++b) {
            const double mw = powers_mw[b] * links.coupling(b, host) * converted;
            single_mw_[host * transmitters_ + b] = mw;
            carrier_mw_[host * carriers_ + carriers.of(b)] += mw;
        }
    }
}

double Intruders::without(const Carriers& carriers, std::size_t host, std::size_t carrier,
                          std::size_t transmitter) const {
    double sum = 0;
    for (const auto t : carriers.members(carrier))
        if (t != transmitter) sum += single_mw_[host * transmitters_ + t];
    return sum;
}

}  // namespace fieldpeg::spectrum
