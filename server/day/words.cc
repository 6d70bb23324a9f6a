#include "server/day/words.h"

#include "server/day/phrases.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace fieldpeg::day {

double milli(double value) {
    const double rounded = std::round(value * 1000) / 1000;
    return rounded == 0 ? 0 : rounded;  // no -0
}

v1::Verdict::Word word(spectrum::Verdict verdict) {
    switch (verdict) {
        case spectrum::Verdict::steady:
            return v1::Verdict::steady;
        case spectrum::Verdict::tight:
            return v1::Verdict::tight;
        case spectrum::Verdict::shaky:
            return v1::Verdict::shaky;
        case spectrum::Verdict::clash:
            return v1::Verdict::clash;
        case spectrum::Verdict::too_far:
            return v1::Verdict::too_far;
        case spectrum::Verdict::patchy:
            return v1::Verdict::patchy;
        case spectrum::Verdict::too_close:
            return v1::Verdict::too_close;
        case spectrum::Verdict::no_picture:
            break;
    }
    return v1::Verdict::no_picture;
}

v1::Range::Word word(spectrum::Range range) {
    switch (range) {
        case spectrum::Range::good:
            return v1::Range::good;
        case spectrum::Range::patchy:
            return v1::Range::patchy;
        case spectrum::Range::too_close:
            return v1::Range::too_close;
        case spectrum::Range::too_far:
            break;
    }
    return v1::Range::too_far;
}

v1::Control::Word word(spectrum::ControlWord word) {
    switch (word) {
        case spectrum::ControlWord::ok:
            return v1::Control::ok;
        case spectrum::ControlWord::at_risk:
            return v1::Control::at_risk;
        case spectrum::ControlWord::too_far:
            break;
    }
    return v1::Control::too_far;
}

v1::Control::Thief thief(spectrum::ControlThief from) {
    switch (from) {
        case spectrum::ControlThief::direct:
            return v1::Control::direct;
        case spectrum::ControlThief::harmonic:
            return v1::Control::harmonic;
        case spectrum::ControlThief::blocking:
            break;
    }
    return v1::Control::blocking;
}

v1::Interference::Word word(spectrum::Interference interference) {
    switch (interference) {
        case spectrum::Interference::none:
            return v1::Interference::none;
        case spectrum::Interference::shaky:
            return v1::Interference::shaky;
        case spectrum::Interference::clash:
            break;
    }
    return v1::Interference::clash;
}

v1::Picture::Grade grade(spectrum::Picture picture) {
    switch (picture) {
        case spectrum::Picture::sharp:
            return v1::Picture::sharp;
        case spectrum::Picture::watchable:
            return v1::Picture::watchable;
        case spectrum::Picture::broken:
            break;
    }
    return v1::Picture::broken;
}

v1::Contribution::Kind kind(spectrum::Contribution::Kind from) {
    switch (from) {
        case spectrum::Contribution::Kind::co_channel:
            return v1::Contribution::co_channel;
        case spectrum::Contribution::Kind::adjacent:
            return v1::Contribution::adjacent;
        case spectrum::Contribution::Kind::receiver_product:
            return v1::Contribution::receiver_product;
        case spectrum::Contribution::Kind::burst:
            return v1::Contribution::burst;
        case spectrum::Contribution::Kind::harmonic:
            return v1::Contribution::harmonic;
        case spectrum::Contribution::Kind::transmitter_product:
            break;
    }
    return v1::Contribution::transmitter_product;
}

v1::PowerWindow::Kind kind(spectrum::PowerLimit::Kind from) {
    switch (from) {
        case spectrum::PowerLimit::Kind::noise:
            return v1::PowerWindow::noise;
        case spectrum::PowerLimit::Kind::co_channel:
            return v1::PowerWindow::co_channel;
        case spectrum::PowerLimit::Kind::adjacent:
            return v1::PowerWindow::adjacent;
        case spectrum::PowerLimit::Kind::receiver_product:
            return v1::PowerWindow::receiver_product;
        case spectrum::PowerLimit::Kind::transmitter_product:
            return v1::PowerWindow::transmitter_product;
        case spectrum::PowerLimit::Kind::harmonic:
            return v1::PowerWindow::harmonic;
        case spectrum::PowerLimit::Kind::burst:
            return v1::PowerWindow::burst;
        case spectrum::PowerLimit::Kind::swamped:
            return v1::PowerWindow::swamped;
        case spectrum::PowerLimit::Kind::too_close:
            return v1::PowerWindow::too_close;
        case spectrum::PowerLimit::Kind::control:
            return v1::PowerWindow::control;
        case spectrum::PowerLimit::Kind::range_end:
            break;
    }
    return v1::PowerWindow::range_end;
}

v1::Refusal message(const Refusal& refusal) {
    using Kind = Refusal::Kind;
    v1::Refusal m;
    switch (refusal.kind) {
        case Kind::malformed:
            m.set_kind(v1::Refusal::malformed);
            break;
        case Kind::out_of_range:
            m.set_kind(v1::Refusal::out_of_range);
            break;
        case Kind::conflict:
            m.set_kind(v1::Refusal::conflict);
            break;
        case Kind::not_found:
            m.set_kind(v1::Refusal::not_found);
            break;
        case Kind::not_permitted:
            m.set_kind(v1::Refusal::not_permitted);
            break;
        case Kind::unavailable:
            m.set_kind(v1::Refusal::unavailable);
            break;
        case Kind::no_answer:
            m.set_kind(v1::Refusal::no_answer);
            break;
    }
    m.set_where(refusal.where);
    m.set_why(refusal.why);
    m.set_next(refusal.next);
    return m;
}

std::string share_text(double share) {
    const double percent = std::round(100 * share);
    if (percent >= 100) return "nearly all";
    if (percent < 1) return "next to nothing";
    return fmt::format("about {:.0f} %", percent);
}

std::string power_text(double power_dbm) {
    const double mw = std::pow(10, power_dbm / 10);
    if (mw >= 999.5) return fmt::format("{:.3g} W", mw / 1000);
    return fmt::format("{:.3g} mW", mw);
}

std::string minutes_text(std::int64_t ms) {
    constexpr std::int64_t minute_ms = 60'000;
    const auto minutes = std::max<std::int64_t>(0, ms) / minute_ms;
    return minutes == 1 ? "1 minute" : fmt::format("{} minutes", minutes);
}

std::string powers_text(const v1::Transmitter& transmitter) {
    if (transmitter.power_dbm().empty()) return "any power";
    std::vector<std::string> all;
    for (const double power : transmitter.power_dbm()) all.push_back(power_text(power));
    return fmt::format("{}{}", fmt::join(all, ", "), transmitter.power_at_most() ? " at most" : "");
}

std::string mhz_text(double mhz) {
    return fmt::format("{}", milli(mhz));
}

std::string channel_text(const v1::Channel& channel) {
    const auto mhz = mhz_text(channel.mhz());
    if (channel.name() == mhz) return mhz + " MHz";
    return fmt::format("{} ({} MHz)", channel.name(), mhz);
}

std::string receiver_text(const std::string& owner, const std::string& relay,
                          const std::string& receiver) {
    return relay.empty() ? fmt::format("{}'s {}", owner, receiver) : receiver_text(relay, receiver);
}

std::string receiver_text(const std::string& relay, const std::string& receiver) {
    return relay.empty() ? receiver : fmt::format("{}, {}", relay, receiver);
}

std::string makers_text(const v1::Contribution& c) {
    if (c.from_size() == 3) return fmt::format("{} + {} - {}", c.from(0), c.from(1), c.from(2));
    if (c.from_size() == 2) return fmt::format("2 x {} - {}", c.from(0), c.from(1));
    return c.from_size() == 1 ? c.from(0) : "";
}

std::string verdict_word(v1::Verdict::Word verdict) {
    std::string name = v1::Verdict::Word_Name(verdict);
    std::ranges::replace(name, '_', ' ');
    return name;
}

std::string left_text(const v1::Harm& h) {
    if (h.after() == v1::Verdict::control_at_risk) return h.through();
    return fmt::format("{} dB instead of {} ({})", db_text(h.margin_after_db()),
                       db_text(h.margin_before_db()), h.through());
}

std::string own_text(const v1::PilotResult& own) {
    if (own.verdict() == v1::Verdict::control_at_risk) return "your own " + own.reason();
    if (!own.has_margin_ref_db())
        return fmt::format("you would have {}: {}", verdict_word(own.verdict()), own.reason());
    return fmt::format("your own picture would be {} ({} dB; {})", verdict_word(own.verdict()),
                       db_text(own.margin_ref_db()), own.reason());
}

std::string through_text(v1::PowerWindow::Kind kind) {
    switch (kind) {
        case v1::PowerWindow::noise:
            return "its margin being used up by noise";
        case v1::PowerWindow::co_channel:
            return "being on the same channel";
        case v1::PowerWindow::adjacent:
            return "what leaks across from the channel beside";
        case v1::PowerWindow::receiver_product:
            return "an intermodulation product in the receiver";
        case v1::PowerWindow::transmitter_product:
            return "an intermodulation product in a transmitter";
        case v1::PowerWindow::harmonic:
            return "a harmonic";
        case v1::PowerWindow::burst:
            return "short bursts of a transmitter that hops";
        case v1::PowerWindow::swamped:
            return "swamping of the front end";
        case v1::PowerWindow::too_close:
            return "too strong a signal for its own goggles";
        case v1::PowerWindow::control:
            return "channels that its hopping needs";
        default:
            return "nothing below the end of the range";
    }
}

}  // namespace fieldpeg::day
