#include "server/day/deciding.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

/// One pilot's gear, changed key by key; all else stays.
class Changing {
public:
    Changing(const ChangePilot& change, v1::Pilot pilot)
        : asked_(change.asked), change_(change), pilot_(std::move(pilot)) {}

    std::optional<v1::Refusal> wrong() { return std::exchange(wrong_, std::nullopt); }
    const v1::Pilot& pilot() const { return pilot_; }
    /// "power 25 mW -> 25 mW, 200 mW"
    const std::vector<std::string>& said() const { return said_; }

    void run() {
        if (asked_.has_place())
            set("place", pilot_.place(), asked_.place(), *pilot_.mutable_place());
        if (asked_.has_area()) set("area", pilot_.area(), asked_.area(), *pilot_.mutable_area());
        change_video();
        change_receiver();
    }

private:
    void set(const char* what, const std::string& was, const std::string& is, std::string& into) {
        if (was == is) return;
        said_.push_back(fmt::format("{} {} -> {}", what, was.empty() ? "none" : was, is));
        into = is;
    }

    void change_video() {
        const bool is_meant = asked_.power_dbm_size() > 0 || !change_.channels.empty() ||
                              asked_.has_emission() || asked_.has_antenna() ||
                              asked_.has_polarisation();
        if (!is_meant) return;
        if (!pilot_.has_video()) {
            wrong_ =
                conflict(pilot_.name(), "has no transmitter to change", "enter one: pilot add");
            return;
        }
        auto& video = *pilot_.mutable_video();
        if (asked_.power_dbm_size() > 0) {
            const auto was = powers_text(video);
            *video.mutable_power_dbm() = asked_.power_dbm();
            std::ranges::sort(*video.mutable_power_dbm());
            if (powers_text(video) != was)
                said_.push_back(fmt::format("power {} -> {}", was, powers_text(video)));
        }
        if (!change_.channels.empty()) {
            const auto was = channels_text(video);
            video.mutable_channels()->Assign(change_.channels.begin(), change_.channels.end());
            if (channels_text(video) != was)
                said_.push_back(fmt::format("channels {} -> {}", was, channels_text(video)));
        }
        if (asked_.has_emission())
            set("emission", video.emission(), asked_.emission(), *video.mutable_emission());
        mount("antenna", asked_.has_antenna() ? asked_.antenna() : "", asked_.polarisation(),
              *video.mutable_mounting());
    }

    void change_receiver() {
        const bool is_meant = asked_.has_receiver() || asked_.has_receiver_antenna() ||
                              asked_.has_receiver_polarisation();
        if (!is_meant) return;
        auto& all = *pilot_.mutable_receivers();
        const auto found = asked_.of_receiver().empty()
                               ? all.begin()
                               : std::ranges::find(all, asked_.of_receiver(), &v1::Receiver::name);
        if (found == all.end()) {
            wrong_ = conflict(pilot_.name(), "has no such receiver", "'explain' names them");
            return;
        }
        if (asked_.has_receiver())
            set("receiver", found->receiver(), asked_.receiver(), *found->mutable_receiver());
        mount("antenna of the goggles", asked_.receiver_antenna(), asked_.receiver_polarisation(),
              *found->mutable_mounting());
    }

    /// A hand or a plane stays as it is where it can.
    void mount(const char* what, const std::string& antenna, const std::string& polarisation,
               v1::Mounting& mounting) {
        if (!antenna.empty()) set(what, mounting.antenna(), antenna, *mounting.mutable_antenna());
        const auto was = mounting.polarisation();
        auto is = was;
        if (!polarisation.empty()) v1::Polarisation::Kind_Parse(polarisation, &is);
        if (is == was) return;
        said_.push_back(fmt::format("polarisation {} -> {}", v1::Polarisation::Kind_Name(was),
                                    v1::Polarisation::Kind_Name(is)));
        mounting.set_polarisation(is);
    }

    static std::string channels_text(const v1::Transmitter& t) {
        std::vector<std::string> names;
        for (const auto& channel : t.channels()) names.push_back(channel.name());
        return names.empty() ? "anything" : fmt::format("{}", fmt::join(names, " "));
    }

    const v1::ChangePilot& asked_;
    const ChangePilot& change_;
    v1::Pilot pilot_;
    std::vector<std::string> said_;
    std::optional<v1::Refusal> wrong_;
};

}  // namespace

Decided decide_change(const Given& given, const ChangePilot& change) {
    const auto* who = pilot(given.sheet(), change.asked.pilot());
    if (!who)
        return refused(not_found("pilot",
                                 fmt::format("no pilot is called '{}'", change.asked.pilot()),
                                 "'pilot list' names them"));
    if (!given.may_act_for(*holder(given.sheet(), who->id())))
        return refused(not_permitted(fmt::format("{} is not you", who->name()),
                                     "a pilot changes their own gear, the marshal everybody's"));
    Changing changing(change, *who);
    changing.run();
    if (auto wrong = changing.wrong()) return refused(*std::move(wrong));
    if (changing.said().empty())
        return done(fmt::format("{} has that already; nothing was changed", who->name()));
    PutParts put;
    *put.parts.add_pilots() = changing.pilot();
    *put.parts.mutable_gear() = change.gear;
    auto decided = decide_put(given, put);
    if (!decided.decision.reply.has_done()) return decided;
    auto& text = *decided.decision.reply.mutable_done()->mutable_text();
    const auto entered = fmt::format("entered: {}", who->name());
    text = fmt::format("{}: {}", who->name(), fmt::join(changing.said(), "; ")) +
           (text.starts_with(entered) ? text.substr(entered.size()) : "");
    return decided;
}

}  // namespace fieldpeg::day
