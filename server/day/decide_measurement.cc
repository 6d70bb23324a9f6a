#include "server/day/deciding.h"

#include "server/day/gear.h"
#include "server/day/scene.h"
#include "server/day/words.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/measure.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace fieldpeg::day {
namespace {

using spectrum::Dbm;
using spectrum::Decibel;
using spectrum::Hertz;
using spectrum::Metres;

template <class List>
auto* named(List* list, const std::string& name) {
    const auto found =
        std::ranges::find_if(*list, [&](const auto& one) { return one.name() == name; });
    return found == list->end() ? nullptr : &*found;
}

/// What one pilot measured, step by step put into their gear.
class Measuring {
public:
    Measuring(const Given& given, const v1::RecordMeasurement& asked, v1::Pilot pilot)
        : given_(given), asked_(asked), pilot_(std::move(pilot)), sheet_(given.sheet()) {}

    Decided decide() {
        if (asked_.has_power())
            change_power();
        else
            change_receiver();
        if (wrong_) return refused(*std::move(wrong_));
        auto decided =
            done(fmt::format("{}{}", said_, asked_.only_try() ? "; nothing entered" : ""));
        if (profile_) *decided.decision.reply.mutable_done()->mutable_measured() = *profile_;
        if (asked_.only_try()) return decided;
        auto& parts = *decided.decision.events.emplace_back().mutable_parts_put();
        *parts.add_pilots() = pilot_;
        if (profile_) *parts.mutable_gear()->add_receiver_profiles() = *profile_;
        Cause cause;
        cause.id = pilot_.id();
        decided.cause = cause;
        return decided;
    }

private:
    void wrong(std::string where, std::string why, std::string next) {
        if (!wrong_) wrong_ = conflict(std::move(where), std::move(why), std::move(next));
    }

    /// On the day that it is, by whoever is named.
    std::string provenance() const {
        auto text = sheet_.date().empty() ? "on the field" : sheet_.date();
        const auto* who = person(given_.state, given_.actor.id);
        if (!asked_.note().empty())
            text += ", " + asked_.note();
        else if (who != nullptr)
            text += ", " + who->name();
        return text;
    }

    template <class Device>
    static void add_measured(Device& device, const std::string& what) {
        if (std::ranges::find(device.measured(), what) == device.measured().end())
            device.add_measured(what);
    }

    void change_power() {
        if (!pilot_.has_video())
            return wrong(pilot_.name(), "has no transmitter", "give them one first");
        if (pilot_.has_claim() && radiates(pilot_.claim().stage()))
            return wrong(pilot_.name(), "is on the air or on the bench", "off first");
        auto& video = *pilot_.mutable_video();
        if (video.power_dbm().empty())
            return wrong(pilot_.name(), "can be set to any power: there is no step to correct",
                         "claim with what it really sends");
        const auto is_label = [&](double dbm) {
            return spectrum::is_same_power(Dbm(dbm), Dbm(asked_.power().label_dbm()));
        };
        const auto step = std::ranges::find_if(*video.mutable_power_dbm(), is_label);
        if (step == video.mutable_power_dbm()->end())
            return wrong(pilot_.name(),
                         fmt::format("cannot be set to {}", power_text(asked_.power().label_dbm())),
                         powers_text(video));
        *step = asked_.power().real_dbm();
        std::ranges::sort(*video.mutable_power_dbm());
        if (pilot_.has_claim() && is_label(pilot_.claim().power_dbm()))
            pilot_.mutable_claim()->set_power_dbm(asked_.power().real_dbm());
        video.add_measured_power_dbm(asked_.power().real_dbm());
        const auto is_known = [&](double dbm) { return is_power_measured(video, dbm); };
        if (std::ranges::all_of(video.power_dbm(), is_known)) add_measured(video, "power");
        said_ = fmt::format("{}: what is called {} sends {}", pilot_.name(),
                            power_text(asked_.power().label_dbm()),
                            power_text(asked_.power().real_dbm()));
    }

    void change_receiver() {
        auto* receivers = pilot_.mutable_receivers();
        if (receivers->empty()) return wrong(pilot_.name(), "has no receiver", "enter one first");
        receiver_ =
            asked_.receiver().empty() ? &(*receivers)[0] : named(receivers, asked_.receiver());
        if (receiver_ == nullptr)
            return wrong(pilot_.name(), fmt::format("has no receiver '{}'", asked_.receiver()),
                         "'fieldpeg check' names them");
        if (receiver_->hears() != "video" || !pilot_.has_video())
            return wrong(pilot_.name(), "does not hear an aircraft by it",
                         "only a receiver that hears the aircraft itself is measured so");
        const auto& known = sheet_.receiver_profiles();
        profile_ = *std::ranges::find(known, receiver_->receiver(), &v1::ReceiverProfile::name);
        frequency_ = spectrum::from_mhz(
            pilot_.has_claim()
                ? pilot_.claim().channel().mhz()
                : (profile_->front_end_low_mhz() + profile_->front_end_high_mhz()) / 2);
        if (asked_.has_weakest()) from_weakest(asked_.weakest());
        if (asked_.has_tearing()) from_tearing(asked_.tearing());
        if (asked_.has_overload()) from_overload(asked_.overload());
        // It is this one's own from now on.
        profile_->set_name(fmt::format("{}'s {}", pilot_.name(), receiver_->name()));
        receiver_->set_receiver(profile_->name());
    }

    /// Of an antenna as it is mounted, in its main direction.
    double gain_db(const v1::Mounting& m) const {
        const auto& all = sheet_.antennas();
        return std::ranges::find(all, m.antenna(), &v1::Antenna::name)->gain_dbi() - m.loss_db();
    }

    /// `mounting` is that of the transmitter.
    Dbm arriving(double power_dbm, double away_m, const v1::Mounting& mounting) const {
        return spectrum::arriving(
            {Dbm(power_dbm), Decibel(gain_db(mounting) + gain_db(receiver_->mounting())),
             Metres(away_m)},
            frequency_);
    }

    /// By how much a receiver shuts out another transmitter of the same kind.
    Decibel rejection(const v1::ReceiverProfile& profile, double offset_mhz) const {
        const auto& emissions = sheet_.emissions();
        const auto emission = day::emission(
            *std::ranges::find(emissions, pilot_.video().emission(), &v1::Emission::name));
        return spectrum::frequency_dependent_rejection(emission.density,
                                                       receiver_profile(profile).selectivity,
                                                       spectrum::from_mhz(offset_mhz));
    }

    Decibel watchable() const { return Decibel(profile_->watchable_db()); }
    Hertz bandwidth() const { return spectrum::from_mhz(profile_->noise_bandwidth_mhz()); }

    void note(const std::string& key) {
        auto& all = *profile_->mutable_provenance();
        all.erase(
            std::remove_if(all.begin(), all.end(), [&](const auto& p) { return p.key() == key; }),
            all.end());
        auto& p = *all.Add();
        p.set_key(key);
        p.set_kind(v1::Provenance::measured);
        p.set_source(provenance());
    }

    void tell(const char* what, double was, double is, const char* unit) {
        said_ =
            fmt::format("{}: {} {:.1f} {} instead of {:.1f}",
                        receiver_text(pilot_.name(), "", receiver_->name()), what, is, unit, was);
    }

    void from_weakest(const v1::RecordMeasurement::Weakest& m) {
        const auto figure = spectrum::noise_figure_from_weakest(
            arriving(m.power_dbm(), m.away_m(), pilot_.video().mounting()), watchable(),
            bandwidth());
        constexpr double least_db = 0, most_db = 40;
        if (figure.count() < least_db || figure.count() > most_db)
            return wrong("weakest",
                         fmt::format("would make a noise figure of {:.0f} dB", figure.count()),
                         "is the power right, was the way free, were the aerials of one hand?");
        tell("noise figure", profile_->noise_figure_db(), figure.count(), "dB");
        profile_->set_noise_figure_db(milli(figure.count()));
        note("noise_figure_db");
        add_measured(*receiver_, "noise_figure");
    }

    void from_tearing(const v1::RecordMeasurement::Tearing& m) {
        const auto needed = spectrum::rejection_from_tearing(
            arriving(m.power_dbm(), m.away_m(), pilot_.video().mounting()),
            arriving(m.other_dbm(), m.other_away_m(), pilot_.video().mounting()), watchable());
        const auto shut_out = [&](const v1::ReceiverProfile& profile) {
            return rejection(profile, m.offset_mhz());
        };
        const auto assumed = shut_out(*profile_);
        constexpr double most_db = 40;
        double low_db = -most_db, high_db = most_db;
        const auto worst = shut_out(with_filter_better_by(low_db)),
                   best = shut_out(with_filter_better_by(high_db));
        if (needed < worst || needed > best)
            return wrong("tearing",
                         fmt::format("would make it shut out {:.0f} dB, and of what such a "
                                     "transmitter spills {:.0f} to {:.0f} can be shut out",
                                     needed.count(), worst.count(), best.count()),
                         "were both powers and distances right, and nobody else on the air?");
        for (int round = 0; round < 40; ++round) {
            const double middle_db = (low_db + high_db) / 2;
            (shut_out(with_filter_better_by(middle_db)) < needed ? low_db : high_db) = middle_db;
        }
        *profile_ = with_filter_better_by(high_db);
        const auto profile = receiver_profile(*profile_);
        profile_->set_noise_bandwidth_mhz(
            milli(spectrum::mhz(spectrum::noise_bandwidth(profile.selectivity))));
        tell("shuts out the channel beside by", assumed.count(), needed.count(), "dB");
        note("selectivity_db");
        add_measured(*receiver_, "selectivity");
    }

    /// The whole curve moved: not near the channel, in full from 20 MHz on. It never turns back.
    v1::ReceiverProfile with_filter_better_by(double better_db) const {
        constexpr double certain_mhz = 5, all_mhz = 20;  // as ranges have it: docs/model.md, 15
        auto moved = *profile_;
        double least = 0;
        for (auto& knot : *moved.mutable_selectivity()) {
            const double counts =
                std::clamp((knot.offset_mhz() - certain_mhz) / (all_mhz - certain_mhz), 0.0, 1.0);
            least = std::max(least, knot.level_db() + counts * better_db);
            knot.set_level_db(milli(least));
        }
        return moved;
    }

    void from_overload(const v1::RecordMeasurement::Overload& m) {
        const auto other = arriving(m.other_dbm(), m.other_away_m(), pilot_.video().mounting());
        const auto noise = spectrum::noise_power(bandwidth(), Decibel(profile_->noise_figure_db()));
        const auto leaking = other - rejection(*profile_, m.offset_mhz());
        const auto margin =
            arriving(m.power_dbm(), m.away_m(), pilot_.video().mounting()) - watchable() -
            spectrum::dbm(spectrum::milliwatts(noise) + spectrum::milliwatts(leaking));
        if (margin < Decibel(1))
            return wrong("overload",
                         leaking > noise ? "is not what was seen: so strong a neighbour comes "
                                           "through the filter as well"
                                         : "had no margin before the other came",
                         "begin with a stronger picture: the aircraft nearer, or with more power");
        const auto p1db = spectrum::p1db_from_overload(other, margin);
        const double over_p1db = profile_->iip3_dbm() - profile_->p1db_dbm();  // by its kind
        tell("stands others up to", profile_->p1db_dbm(), p1db.count(), "dBm");
        profile_->set_p1db_dbm(milli(p1db.count()));
        profile_->set_iip3_dbm(milli(p1db.count() + over_p1db));
        note("p1db_dbm");
        note("iip3_dbm");
        add_measured(*receiver_, "intercept");
    }

    const Given& given_;
    const v1::RecordMeasurement& asked_;
    v1::Pilot pilot_;
    const v1::DaySheet& sheet_;
    v1::Receiver* receiver_ = nullptr;
    std::optional<v1::ReceiverProfile> profile_;
    Hertz frequency_{0};
    std::string said_;
    std::optional<v1::Refusal> wrong_;
};

}  // namespace

Decided decide_measurement(const Given& given, const v1::RecordMeasurement& asked) {
    const auto* who = pilot(given.sheet(), asked.pilot());
    if (who == nullptr)
        return refused(not_found("pilot", fmt::format("no pilot is called '{}'", asked.pilot())));
    if (!given.may_act_for(*holder(given.sheet(), who->id())))
        return refused(not_permitted(fmt::format("only {} or the marshal enters what {} measured",
                                                 who->name(), who->name())));
    return Measuring(given, asked, *who).decide();
}

}  // namespace fieldpeg::day
