#include "server/day/relay_check.h"

#include "server/day/choices.h"
#include "server/day/flights.h"
#include "server/day/relay_advice.h"
#include "server/day/relay_steps.h"
#include "server/day/relay_trial.h"
#include "server/day/remarks.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/spectrum/exposure.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace fieldpeg::day {
namespace {

using spectrum::Dbm;

Result<v1::Claim> asked_claim(const v1::Relay& relay, const v1::RelayCheckQuery& query) {
    const auto& t = relay.transmitter();
    v1::Claim claim = relay.claim();
    if (query.has_channel()) {
        *claim.mutable_channel() = query.channel();
    } else if (!relay.has_claim()) {
        if (t.channels().empty())
            return Refusal{Refusal::Kind::malformed, relay.name(), "holds no channel",
                           "say which: --channel R3"};
        *claim.mutable_channel() = t.channels(0);
    }
    if (query.has_power_dbm()) {
        claim.set_power_dbm(query.power_dbm());
    } else if (!relay.has_claim()) {
        if (t.power_dbm().empty())
            return Refusal{Refusal::Kind::malformed, relay.name(), "holds no power",
                           "say which: --power 25mW"};
        claim.set_power_dbm(*std::ranges::min_element(t.power_dbm()));
    }
    claim.set_stage(v1::Claim::on_air);
    return claim;
}

/// One check, put into words.
class RelayCheck {
public:
    explicit RelayCheck(const RelayTrial& trial) : trial_(trial) {}

    v1::RelayCheckReply reply() const {
        v1::RelayCheckReply r;
        r.set_relay(trial_.relay().name());
        r.set_owner(trial_.relay().owner());
        *r.mutable_channel() = trial_.claim().channel();
        r.mutable_channel()->set_mhz(milli(trial_.claim().channel().mhz()));
        r.set_asked_dbm(milli(trial_.asked().count()));
        r.set_answer(trial_.answer());
        *r.mutable_ref() = message(trial_.usual());
        *r.mutable_worst() = message(trial_.worst());
        for (const auto& h : trial_.harms()) *r.add_harmed() = h;
        for (const auto& h : trial_.own_harms()) *r.add_harmed() = h;
        for (const auto& h : trial_.links_lost()) *r.add_links_lost() = h;
        if (r.answer() != v1::RelayCheckReply::fits) add_advice(trial_, r);
        const auto& transmitter = trial_.scene().transmitters[trial_.transmitter()];
        const Dbm radiated = eirp(transmitter);
        r.set_eirp_dbm(milli(radiated.count()));
        r.set_keep_away_m(
            milli(spectrum::exposure_distance(radiated, transmitter.frequency).count()));
        for (auto& remark :
             remarks(trial_.with().situation(), trial_.transmitter(), trial_.with().sheet()))
            *r.add_remarks() = remark;
        add_cautions(r);
        r.set_sentence(sentence(r));
        if (trial_.group() != 0) r.set_group(trial_.group());
        return r;
    }

private:
    v1::PowerWindow message(const RelayTrial::Window& w) const {
        v1::PowerWindow m;
        if (w.floor) m.set_floor_dbm(milli(w.floor->count()));
        if (w.ceiling) m.set_ceiling_dbm(milli(w.ceiling->count()));
        if (w.limited_by) {
            auto* limit = m.mutable_limited_by();
            limit->set_kind(kind(w.limited_by->kind));
            if (w.limited_by->receiver) {
                limit->set_owner(receiver(*w.limited_by->receiver).owner);
                limit->set_receiver(receiver(*w.limited_by->receiver).name);
                limit->set_relay(receiver(*w.limited_by->receiver).relay);
            }
            if (w.limited_by->control) {
                limit->set_owner(w.limited_in->controls[*w.limited_by->control]);
                limit->set_receiver("control");
            }
        }
        for (const auto v : w.below_before) {
            auto* below = m.add_below_before();
            below->set_owner(receiver(v).owner);
            below->set_receiver(receiver(v).name);
        }
        m.set_reason(window_reason(w));
        return m;
    }

    std::string window_reason(const RelayTrial::Window& w) const {
        std::vector<std::string> parts;
        if (trial_.nobody_listens())
            parts.emplace_back("nobody of this day hears the relay, so there is no floor");
        else if (trial_.none_can_show())
            parts.push_back(fmt::format("its goggles cannot show what it sends ({})",
                                        trial_.relay().transmitter().emission()));
        else if (trial_.none_can_tune())
            parts.push_back(fmt::format("its goggles cannot be tuned to {}",
                                        channel_text(trial_.claim().channel())));
        else if (!w.floor)
            parts.push_back(fmt::format("not sharp at its owner's even with {}",
                                        power_text(spectrum::relay_power_max.count())));
        if (!w.ceiling && w.limited_by && w.limited_by->receiver)
            parts.push_back(fmt::format("{} suffers even from {}, {}",
                                        receiver(*w.limited_by->receiver).owner,
                                        power_text(spectrum::relay_power_min.count()),
                                        "through " + through_text(kind(w.limited_by->kind))));
        if (!w.ceiling && w.limited_by && w.limited_by->control)
            parts.push_back(fmt::format("{} may lose control of the aircraft even from {}",
                                        w.limited_in->controls[*w.limited_by->control],
                                        power_text(spectrum::relay_power_min.count())));
        if (w.floor && w.ceiling && *w.floor > *w.ceiling)
            parts.push_back(
                fmt::format("its owner needs {:.1f} dB more than the neighbours can take",
                            (*w.floor - *w.ceiling).count()));
        return fmt::format("{}", fmt::join(parts, "; "));
    }

    const ReceiverOf& receiver(std::size_t v) const {
        return trial_.with().situation().receivers[v];
    }

    void add_cautions(v1::RelayCheckReply& r) const {
        if (trial_.usual().ceiling && trial_.asked() <= *trial_.usual().ceiling &&
            (*trial_.usual().ceiling - trial_.asked()).count() < edge_db)
            r.add_cautions("within 1 dB of the most the neighbours can take");
        if (trial_.usual().floor && trial_.asked() >= *trial_.usual().floor &&
            (trial_.asked() - *trial_.usual().floor).count() < edge_db)
            r.add_cautions("within 1 dB of the least its owner needs");
        const auto& first = trial_.worst().limited_by;
        if (trial_.worst().ceiling && trial_.usual().ceiling &&
            trial_.asked() <= *trial_.usual().ceiling && trial_.asked() > *trial_.worst().ceiling)
            r.add_cautions(fmt::format(
                "short drop-outs for {} when somebody passes close",
                first && first->receiver ? receiver(*first->receiver).owner : "a neighbour"));
        for (const auto v : trial_.usual().below_before)
            r.add_cautions(
                fmt::format("{}, {}: no margin even with the relay off, so the window "
                            "leaves them out; who is harmed counts them",
                            receiver(v).owner, receiver(v).name));
        for (const auto& caution : cautions(trial_.with()))
            if (caution.concerns.contains(trial_.relay().owner())) r.add_cautions(caution.text);
        add_not_settable(r);
    }

    /// A question may go beyond what the relay can be set to; the answer says so.
    void add_not_settable(v1::RelayCheckReply& r) const {
        const auto& gear = trial_.relay().transmitter();
        if (!can_be_set_to(gear, trial_.asked().count()))
            r.add_cautions(fmt::format("{} is none of the powers that it can be set to",
                                       power_text(trial_.asked().count())));
        if (!can_be_tuned_to(gear, trial_.claim().channel()))
            r.add_cautions(
                fmt::format("{} is none of its channels", channel_text(trial_.claim().channel())));
    }

    std::string sentence(const v1::RelayCheckReply& r) const {
        const auto what =
            fmt::format("{}: {} on {} at {}", trial_.relay().owner(), trial_.relay().name(),
                        channel_text(trial_.claim().channel()), power_text(trial_.asked().count()));
        const auto first = r.advice().empty() ? std::string() : ". Instead: " + r.advice(0).text();
        if (!r.harmed().empty()) {
            const auto& harm = r.harmed(0);
            if (harm.after() == v1::Verdict::control_at_risk)
                return fmt::format("{}: not like this, {} may lose control of the aircraft{}", what,
                                   harm.pilot(), first);
            const bool self = harm.pilot() == trial_.relay().owner();
            const bool had_one = harm.margin_before_db() >= 0;
            return fmt::format("{}: not like this, {} {}{}", what,
                               self ? "your own " + harm.receiver() : harm.pilot(),
                               had_one ? "loses the picture" : "has an even worse picture", first);
        }
        switch (r.answer()) {
            case v1::RelayCheckReply::fits:
                return what + " disturbs nobody" +
                       (trial_.nobody_listens() ? "" : " and is enough for its owner") +
                       (r.remarks().empty() ? "" : "; mind the remarks");
            case v1::RelayCheckReply::too_weak:
                return fmt::format("{} is too weak for its owner{}", what, first);
            case v1::RelayCheckReply::too_strong:
                return fmt::format("{} is too strong for its own goggles{}", what, first);
            default:
                break;
        }
        return fmt::format("{}: no power suits both its owner and the neighbours{}", what, first);
    }

    const RelayTrial& trial_;
};

}  // namespace

Result<v1::RelayCheckReply> relay_check(const v1::DaySheet& sheet,
                                        const v1::RelayCheckQuery& query) {
    const auto relay = std::ranges::find(sheet.relays(), query.relay(), &v1::Relay::name);
    if (relay == sheet.relays().end())
        return Refusal{Refusal::Kind::not_found, "relay",
                       "no relay is called '" + query.relay() + "'"};
    const auto claim = asked_claim(*relay, query);
    if (!claim) return claim.error();
    const auto basis = query.basis() == v1::Basis::unknown ? v1::Basis::held : query.basis();
    // What is held counts by flight group, the strictest deciding; what is on the air, whatever its
    // group.
    std::vector<std::uint32_t> groups{0};
    if (basis == v1::Basis::held)
        groups = query.has_group()
                     ? std::vector{query.group()}
                     : flies_with(sheet, relay->name(), claim->group(), claim->always());
    auto reply = RelayCheck(RelayTrial(sheet, *relay, *claim, basis, groups)).reply();
    if (query.all_steps()) add_steps(sheet, *relay, *claim, basis, groups, reply);
    return reply;
}

}  // namespace fieldpeg::day
