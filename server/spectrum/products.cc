#include "server/spectrum/products.h"

#include "server/spectrum/margin.h"

#include <boost/assert.hpp>

#include <algorithm>
#include <cstdlib>
#include <initializer_list>
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

/// A product is taken at its absolute frequency: a + b - c is where a receiver is tuned, or c - a -
/// b is. See Intruders::for_each.
constexpr std::int64_t above = -1, below = 1;

/// Calls pair(a, b, target, begin, end) for all a <= b: with each carrier c in [begin, end), all
/// of one kind, the product a+b-c falls within reach of `tuned`, |target - c| steps off.
template <class Pair>
void for_each_pair(const Carriers& carriers, std::int64_t tuned,
                   std::initializer_list<std::int64_t> sides, Pair pair) {
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
    for (const std::int64_t side : sides)
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
        : carriers_(carriers), sums_(sums), tables_(tables), profile_(profile), tuned_(tuned) {}

    PowerPair sum() {
        if (!is_dense()) return sum_of({above, below});
        PowerPair sum = sum_of({below});
        const std::size_t kinds = carriers_.kinds().size();
        for (std::size_t a = 0; a < kinds; ++a)
            for (std::size_t c = 0; c < kinds; ++c) {
                sum += two_signals(a, c);
                for (std::size_t b = a; b < kinds; ++b) sum += three_signals(a, b, c);
            }
        return sum;
    }

    /// Calls visit(term) for every product, weighed in geometry g.
    template <class Visit>
    void for_each(std::size_t g, Visit visit) {
        for_each_pair(
            carriers_, tuned_, {above, below},
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
        PowerPair over_c{}, sum{};
        for (std::size_t c = begin; c < end; ++c) {
            if (c != a && c != b)
                over_c += table.at(std::abs(target - carriers_.step(c))) * sums_[c].first;
            else if (sums_[c].members > 1)
                sum += three_left(a, b, c, target) * three_signal_weight(sums_, a, b, c);
        }
        return sum + triple_beat * (sums_[a].first * sums_[b].first * over_c);
    }

    PowerPair sum_of(std::initializer_list<std::int64_t> sides) {
        PowerPair sum{};
        for_each_pair(carriers_, tuned_, sides,
                      [&](std::size_t a, std::size_t b, std::int64_t target, std::size_t begin,
                          std::size_t end) {
                          sum += a == b ? of_one(a, target, begin, end)
                                        : of_two(a, b, target, begin, end);
                      });
        return sum;
    }

    /// Whether the carriers lie close enough for sums step by step, and are enough for it to pay.
    bool is_dense() {
        constexpr std::int64_t steps_max = 1 << 12;
        constexpr std::size_t carriers_min = 8;
        const auto f = carriers_.steps();
        if (f.size() < carriers_min) return false;
        const auto [lowest, highest] = std::ranges::minmax(f);
        return 2 * (highest - lowest) < steps_max &&
               tables_.three_signal(profile_, 0, 0, 0).all() != nullptr;
    }

    /// By step: the power of the carriers of one kind, each spread by what is left of a product
    /// that far from the channel. At a + b - tuned it is the sum over C of A+B-C.
    struct Spread {
        std::int64_t from;
        std::vector<double> usual, closest;

        PowerPair at(std::int64_t step) const {
            const auto i = static_cast<std::size_t>(step - from);
            return {usual[i], closest[i]};
        }
    };

    Spread spread(Carriers::Kind kind, const double* left, std::int64_t from, std::int64_t to) {
        const auto size = static_cast<std::size_t>(to - from + 1);
        Spread all{from, std::vector<double>(size, 0), std::vector<double>(size, 0)};
        const std::int64_t reach = carriers_.reach();
        run_.resize(static_cast<std::size_t>(2 * reach + 1));
        for (std::int64_t off = -reach; off <= reach; ++off)
            run_[static_cast<std::size_t>(off + reach)] = left[std::abs(off)];
        for (std::size_t c = kind.begin; c < kind.end; ++c) {
            const std::int64_t low = std::max(carriers_.step(c) - reach, from);
            const std::int64_t high = std::min(carriers_.step(c) + reach, to);
            if (low > high) continue;
            const double* run = &run_[static_cast<std::size_t>(low - carriers_.step(c) + reach)];
            add_run(run, sums_[c].first, static_cast<std::size_t>(high - low + 1),
                    static_cast<std::size_t>(low - from), all);
        }
        return all;
    }
    static void add_run(const double* run, const PowerPair& power, std::size_t count,
                        std::size_t at, Spread& all) {
        double* usual = all.usual.data() + at;
        double* closest = all.closest.data() + at;
        for (std::size_t i = 0; i < count; ++i) usual[i] += power.usual * run[i];
        for (std::size_t i = 0; i < count; ++i) closest[i] += power.closest * run[i];
    }

    double at_carrier(const double* left, std::size_t carrier) const {
        const std::int64_t off = std::abs(carriers_.step(carrier) - tuned_);
        return off <= carriers_.reach() ? left[off] : 0;
    }

    /// All 2A-C of two kinds, A and C different transmitters.
    PowerPair two_signals(std::size_t kind_a, std::size_t kind_c) {
        const auto as = carriers_.kinds()[kind_a], cs = carriers_.kinds()[kind_c];
        const double* left =
            tables_.two_signal(profile_, carriers_.emission(as.begin), carriers_.emission(cs.begin))
                .all();
        PowerPair sum{};
        Window window(carriers_, cs);
        for (std::size_t a = as.begin; a < as.end; ++a) {
            const std::int64_t target = 2 * carriers_.step(a) - tuned_;
            window.move_to(target);
            for (std::size_t c = window.begin(); c < window.end(); ++c)
                sum += left[std::abs(target - carriers_.step(c))] * two_signal_weight(sums_, a, c);
        }
        return gain(as.begin) * sum;
    }

    /// All A+B-C of three kinds, {A, B} unordered, all three different transmitters:
    ///
    ///     half of all - (A = B) - 2 (A = C) + 2 (A = B = C)    within one kind
    PowerPair three_signals(std::size_t kind_a, std::size_t kind_b, std::size_t kind_c) {
        const auto as = carriers_.kinds()[kind_a], bs = carriers_.kinds()[kind_b],
                   cs = carriers_.kinds()[kind_c];
        const double* left =
            tables_
                .three_signal(profile_, carriers_.emission(as.begin), carriers_.emission(bs.begin),
                              carriers_.emission(cs.begin))
                .all();
        const auto f = carriers_.steps();
        const Spread over_c = spread(cs, left, f[as.begin] + f[bs.begin] - tuned_,
                                     f[as.end - 1] + f[bs.end - 1] - tuned_);
        const bool same = kind_a == kind_b;
        PowerPair sum{};
        for (std::size_t a = as.begin; a < as.end; ++a) {
            PowerPair over_b{};
            for (std::size_t b = same ? a + 1 : bs.begin; b < bs.end; ++b)
                over_b += sums_[b].first * over_c.at(f[a] + f[b] - tuned_);
            sum += sums_[a].first * over_b;
            if (same)
                sum += 0.5 * ((sums_[a].first * sums_[a].first - sums_[a].second) *
                              over_c.at(2 * f[a] - tuned_));
        }
        if (kind_c == kind_a) sum = sum - shared(as, bs, left);
        if (kind_c == kind_b && !same) sum = sum - shared(bs, as, left);
        if (same && kind_c == kind_a)
            for (std::size_t a = as.begin; a < as.end; ++a)
                sum += at_carrier(left, a) * sums_[a].third;
        return triple_beat * PowerPair{std::max(sum.usual, 0.0), std::max(sum.closest, 0.0)};
    }

    /// A+B-A, which is B: every A with every B.
    PowerPair shared(Carriers::Kind as, Carriers::Kind bs, const double* left) const {
        PowerPair of_a{}, of_b{};
        for (std::size_t a = as.begin; a < as.end; ++a) of_a += sums_[a].second;
        for (std::size_t b = bs.begin; b < bs.end; ++b)
            of_b += at_carrier(left, b) * sums_[b].first;
        return of_a * of_b;
    }

    const Carriers& carriers_;
    std::span<const CarrierSums> sums_;
    RejectionTables& tables_;
    std::size_t profile_;
    std::int64_t tuned_;
    std::vector<double> run_;
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
                                        std::span<const std::size_t> absent) const {
    std::vector<CarrierSums> sums(size());
    for (std::size_t t = 0; t < received.size(); ++t) {
        if (std::ranges::find(absent, t) != absent.end()) continue;
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
                                                       std::span<const std::size_t> absent,
                                                       std::size_t g, std::size_t most) const {
    const auto strongest = [&](std::size_t carrier) {
        std::vector<std::size_t> list;
        for (const auto t : members(carrier))
            if (received[t][g] > 0 && std::ranges::find(absent, t) == absent.end())
                list.push_back(t);
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
            if (scene.transmitters[b].hops) continue;
            const double mw = powers_mw[b] * links.coupling(b, host) * converted;
            single_mw_[host * transmitters_ + b] = mw;
            carrier_mw_[host * carriers_ + carriers.of(b)] += mw;
        }
    }
}

const std::vector<double>& Intruders::radiated(const Carriers& carriers, RejectionTables& tables,
                                               const Scene& scene, std::size_t profile,
                                               Hertz tuned) {
    auto& known = radiated_[{profile, tuned}];
    if (!known.empty()) return known;
    known.assign(transmitters_, 0);
    const std::int64_t channel = carriers.steps_of(tuned);
    for_each(carriers, tuned, {},
             [&](std::size_t host, std::size_t carrier, std::int64_t product, double mw) {
                 auto& table = tables.two_signal(profile, scene.transmitters[host].emission,
                                                 carriers.emission(carrier));
                 known[host] += mw * table.at(std::abs(product - channel)) *
                                tables.through_front_end(profile, carriers.frequency(product));
             });
    return known;
}

double Intruders::without(const Carriers& carriers, std::size_t host, std::size_t carrier,
                          std::span<const std::size_t> absent) const {
    double sum = 0;
    for (const auto t : carriers.members(carrier))
        if (std::ranges::find(absent, t) == absent.end())
            sum += single_mw_[host * transmitters_ + t];
    return sum;
}

}  // namespace fieldpeg::spectrum
