#include "server/book/day_file.h"
#include "server/book/day_reading.h"
#include "server/spectrum/units.h"

#include <algorithm>
#include <cmath>

namespace fieldpeg::book {
namespace {

constexpr Range power_mw_range{1e-6, 1e5, "mW"};
const Range power_dbm_range{spectrum::power_min.count(), spectrum::power_max.count(), "dBm"};

}  // namespace

v1::Transmitter read_transmitter(Reader& r, const DayReading& day, const std::string& what,
                                 Carrier carrier, Defaults& defaults) {
    v1::Transmitter t;
    if (const auto emission = r.text("emission", Need::required))
        if (const auto* e = known(r, "emission", *emission, day.gear.emissions(), "emission"))
            t.set_emission(e->name());
    *t.mutable_mounting() = read_mounting(r, day, what, carrier, defaults);
    for (const double power : read_powers(r, "power", powers_max)) t.add_power_dbm(power);
    std::ranges::sort(*t.mutable_power_dbm());
    const auto bench = read_powers(r, "bench_power", 1);
    if (!bench.empty()) t.set_bench_power_dbm(bench.front());
    read_measured(r, {"power", "antenna"}, *t.mutable_measured());
    read_harmonics(r, t);
    read_channels(r, day, *t.mutable_channels());
    t.set_power_at_most(r.boolean("power_at_most").value_or(false));
    t.set_moves_by_itself(r.boolean("moves_by_itself").value_or(false));
    if (t.moves_by_itself() && t.channels_size() < 2)
        r.problem("moves_by_itself", "has nowhere to go", "two channels or more, in `channels`");
    return t;
}

std::vector<double> read_powers(Reader& r, const std::string& key, std::size_t most) {
    auto in_mw = r.one_or_more(key + "_mw", power_mw_range, most);
    auto in_dbm = r.one_or_more(key + "_dbm", power_dbm_range, most);
    if (!in_mw.empty() && !in_dbm.empty())
        r.problem(key + "_dbm", fmt::format("is given beside {}_mw", key), "one of the two");
    if (in_mw.empty()) return in_dbm;
    for (double& power : in_mw) power = 10 * std::log10(power);
    return in_mw;
}

void read_harmonics(Reader& r, v1::Transmitter& t) {
    constexpr Range down{0, 150, "dB"};
    t.set_harmonic_filter_db(r.number("harmonic_filter_db", down).value_or(0));
    const auto below = r.numbers("harmonics_db", 2, down);
    if (!below) return;
    t.set_second_harmonic_db((*below)[0]);
    t.set_third_harmonic_db((*below)[1]);
}

void read_measured(Reader& r, const std::vector<std::string>& words,
                   google::protobuf::RepeatedPtrField<std::string>& into) {
    for (const auto& written : r.texts("measured", words.size())) {
        if (std::ranges::find(words, written) == words.end())
            r.problem("measured",
                      fmt::format("'{}' is nothing that is measured here", printable(written)),
                      fmt::format("some of {}", fmt::join(words, ", ")),
                      r.suggestion(written, words));
        else
            into.Add(std::string(written));
    }
}

void read_channels(Reader& r, const DayReading& day,
                   google::protobuf::RepeatedPtrField<v1::Channel>& into) {
    for (const auto& written : r.texts("channels", channels_max)) {
        std::string why;
        for (auto& channel : day.channels.read_range(written, why)) *into.Add() = channel;
        if (why.empty()) continue;
        r.problem("channels", why);
        into.Clear();  // so that a claim is not reported on top
        return;
    }
    if (into.size() > static_cast<int>(channels_max))
        r.problem("channels", fmt::format("are {} channels", into.size()),
                  fmt::format("at most {}", channels_max));
}

}  // namespace fieldpeg::book
