#pragma once

#include "server/spectrum/margin.h"
#include "server/spectrum/products.h"
#include "server/spectrum/rejection_table.h"
#include "server/spectrum/scene.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

/// One receiver as the sums over what disturbs it see it. Used by margin.cc and contributions.cc.
namespace fieldpeg::spectrum {

/// Output powers of all transmitters, mW.
std::vector<double> sent_mw(const Scene& scene);

/// A harmonic that is radiated: n = 2, 3.
inline constexpr std::int64_t harmonics[] = {2, 3};
/// The share of a transmitter's power in its harmonic n, 20 log n of path loss counted in.
double radiated_share(const Transmitter& transmitter, std::int64_t n);
/// What a rare disturbance counts of its power: one that is there for `full_duty` or more all of
/// it.
double counted(double hit);

class Ear {
public:
    /// Requires that the receiver hears something.
    Ear(const Scene& scene, const LinkTable& links, RejectionTables& tables,
        std::span<const double> powers_mw, std::size_t receiver);

    const ReceiverProfile& profile() const { return profile_; }
    std::size_t profile_index() const { return receiver_.profile; }
    std::size_t hears() const { return *receiver_.hears; }
    Hertz tuned() const { return tuned_; }
    /// Transmitters that are silent while this receiver listens: its own, and those that spare it.
    const std::vector<std::size_t>& absent() const { return absent_; }
    bool is_absent(std::size_t transmitter) const {
        return std::ranges::find(absent_, transmitter) != absent_.end();
    }

    /// What gets into the front end from each transmitter; of one that is absent nothing.
    const std::vector<PowerPair>& received() const { return received_; }
    /// The same of those that form products: one that hops does not.
    std::vector<PowerPair> mixing() const;

    /// The share of a transmitter's emission that the selectivity leaves.
    double left(std::size_t transmitter) const;
    /// What of a transmitter lies on the channel, bursts apart.
    PowerPair leak(std::size_t transmitter) const;
    /// Of one that hops.
    PowerPair burst(std::size_t transmitter) const;
    PowerPair harmonic(std::size_t transmitter, std::int64_t n) const;
    /// The share of a host's radiated product that arrives, the front end apart and included. The
    /// wanted transmitter may be the host; one that is absent otherwise, or hops, is none.
    PowerPair from_host(std::size_t host) const;
    PowerPair from_host(std::size_t host, Hertz product) const;

private:
    PowerPair path(std::size_t transmitter) const;

    const Scene& scene_;
    const LinkTable& links_;
    RejectionTables& tables_;
    std::span<const double> powers_mw_;
    std::size_t index_;
    const Receiver& receiver_;
    const ReceiverProfile& profile_;
    Hertz tuned_;
    std::vector<std::size_t> absent_;
    std::vector<PowerPair> received_;
};

}  // namespace fieldpeg::spectrum
