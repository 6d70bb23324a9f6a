#include "server/service/resolve.h"

#include "server/book/channels.h"
#include "server/book/day_file.h"
#include "server/book/library.h"
#include "server/book/names.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/service/input.h"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <vector>

namespace fieldpeg::service {
namespace {

using book::find_named;
using book::names_of;

constexpr std::uint32_t group_max = 100;
const std::string usual_antenna = "circular-omni";

Refusal unknown(const char* what, const std::string& name, const std::vector<std::string>& known) {
    const auto near = book::nearest(name, known);
    return {Refusal::Kind::not_found, what,
            fmt::format("nobody and nothing here is called '{}'", book::printable(name)),
            near.empty() ? "" : fmt::format("did you mean '{}'?", near)};
}

std::optional<Refusal> wrong_text(const char* what, const std::string& text) {
    if (text.size() > text_length_max)
        return Refusal{Refusal::Kind::out_of_range, what,
                       fmt::format("is {} bytes long", text.size()),
                       fmt::format("at most {}", text_length_max)};
    const bool controls = std::ranges::any_of(
        text, [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; });
    if (controls || !book::is_utf8(text))
        return Refusal{Refusal::Kind::malformed, what, "has control characters or is not UTF-8",
                       "plain text"};
    return std::nullopt;
}

std::vector<std::string> both(std::vector<std::string> names,
                              const std::vector<std::string>& more) {
    names.insert(names.end(), more.begin(), more.end());
    return names;
}

/// Fills in a command step by step; the first thing that is wrong ends it.
class Resolver {
public:
    Resolver(v1::Command command, const v1::DayState& state, std::uint32_t asker)
        : command_(std::move(command)), state_(state), asker_(asker) {}

    Result<v1::Command> resolved() {
        switch (command_.ask_case()) {
            case v1::Command::kPut:
                put(*command_.mutable_put());
                break;
            case v1::Command::kRemove:
                transmitter(*command_.mutable_remove()->mutable_name());
                break;
            case v1::Command::kSetRules:
                rules(*command_.mutable_set_rules());
                break;
            case v1::Command::kClaim:
                claim(*command_.mutable_claim());
                break;
            case v1::Command::kRelease:
                transmitter(*command_.mutable_release()->mutable_transmitter());
                text("reason", command_.release().reason());
                break;
            case v1::Command::kOn:
                on(*command_.mutable_on());
                break;
            case v1::Command::kOff:
                transmitter(*command_.mutable_off()->mutable_transmitter());
                break;
            case v1::Command::kAssign:
                for (auto& one : *command_.mutable_assign()->mutable_all()) assignment(one);
                text("reason", command_.assign().allowed_because());
                break;
            case v1::Command::kSee:
                see(*command_.mutable_see());
                break;
            case v1::Command::kNod:
                person(*command_.mutable_nod()->mutable_name());
                break;
            case v1::Command::kWithdrawKey:
                person(*command_.mutable_withdraw_key()->mutable_name());
                break;
            case v1::Command::kRenewTicket:
                if (!command_.renew_ticket().pilot().empty())
                    pilot(*command_.mutable_renew_ticket()->mutable_pilot());
                break;
            default:
                break;
        }
        if (wrong_) return *std::move(wrong_);
        return std::move(command_);
    }

private:
    void refuse(std::optional<Refusal> refusal) {
        if (refusal && !wrong_) wrong_ = std::move(refusal);
    }

    void transmitter(std::string& name) {
        if (name.empty()) {
            const auto* own = day::pilot(state_.sheet(), asker_);
            if (own)
                name = own->name();
            else
                refuse(Refusal{Refusal::Kind::malformed, "transmitter",
                               "whose? You are not a pilot of this day",
                               "name a pilot or a relay"});
            return;
        }
        settle("transmitter", name,
               both(names_of(state_.sheet().pilots()), names_of(state_.sheet().relays())));
    }

    void pilot(std::string& name) { settle("pilot", name, names_of(state_.sheet().pilots())); }

    void person(std::string& name) { settle("name", name, names_of(state_.people())); }

    void settle(const char* what, std::string& name, const std::vector<std::string>& known) {
        for (const auto& one : known) {
            if (book::name_key(one) != book::name_key(name)) continue;
            name = one;
            return;
        }
        refuse(unknown(what, name, known));
    }

    void text(const char* what, const std::string& text) { refuse(wrong_text(what, text)); }

    void channel(v1::Channel& channel) {
        refuse(outside_channel("channel", channel));
        if (wrong_) return;
        // What it is called is ours to say: nobody may put words into the log as a channel's name.
        std::string why;
        const auto named = book::ChannelNames(book::library().rows()).read(channel.name(), why);
        if (!named || named->mhz() != channel.mhz())
            channel = book::ChannelNames::by_mhz(channel.mhz());
    }

    void power(double power_dbm) { refuse(outside_power("power_dbm", power_dbm)); }

    void claim(v1::ClaimChannel& asked) {
        transmitter(*asked.mutable_transmitter());
        if (asked.has_channel()) channel(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        if (asked.group() > group_max) refuse(outside("group", asked.group(), 0, group_max));
        text("reason", asked.allowed_because());
    }

    void assignment(v1::Assignment& asked) {
        transmitter(*asked.mutable_transmitter());
        channel(*asked.mutable_channel());
        power(asked.power_dbm());
        if (asked.group() > group_max) refuse(outside("group", asked.group(), 0, group_max));
    }

    void on(v1::SwitchOn& asked) {
        transmitter(*asked.mutable_transmitter());
        if (asked.has_channel()) channel(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        text("reason", asked.allowed_because());
    }

    void rules(v1::SetRules& asked) {
        asked.clear_resolved();
        if (asked.rules().empty()) return;
        const auto* found = find_named(book::library().rule_sets(), asked.rules());
        if (found)
            *asked.mutable_resolved() = *found;
        else
            refuse(unknown("rules", asked.rules(), names_of(book::library().rule_sets())));
    }

    void see(v1::See& asked) {
        channel(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        text("note", asked.note());
        asked.clear_gear();
        const auto& field = state_.sheet().field();
        if (!asked.place().empty())
            settle("place", *asked.mutable_place(), names_of(field.places()));
        if (!asked.area().empty()) settle("area", *asked.mutable_area(), names_of(field.areas()));
        if (asked.emission().empty()) asked.set_emission(usual_emission);
        settle("emission", *asked.mutable_emission(),
               both(names_of(state_.sheet().emissions()), names_of(book::library().emissions())));
        if (!find_named(state_.sheet().emissions(), asked.emission()))
            if (const auto* e = find_named(book::library().emissions(), asked.emission()))
                *asked.mutable_gear()->add_emissions() = *e;
        if (!find_named(state_.sheet().antennas(), usual_antenna))
            *asked.mutable_gear()->add_antennas() =
                *find_named(book::library().antennas(), usual_antenna);
    }

    void put(v1::Put& asked) {
        book::Problems problems;
        const auto sheet = book::read_parts(asked.toml(), "parts", state_.sheet(), problems);
        asked.clear_parts();
        if (!sheet) {
            std::string all;
            for (const auto& p : problems) all += (all.empty() ? "" : "\n") + book::to_string(p);
            refuse(Refusal{Refusal::Kind::malformed, "", all, "nothing was entered"});
            return;
        }
        auto& parts = *asked.mutable_parts();
        *parts.mutable_places() = sheet->field().places();
        *parts.mutable_areas() = sheet->field().areas();
        *parts.mutable_pilots() = sheet->pilots();
        *parts.mutable_relays() = sheet->relays();
        auto& gear = *parts.mutable_gear();
        *gear.mutable_emissions() = sheet->emissions();
        *gear.mutable_receiver_profiles() = sheet->receiver_profiles();
        *gear.mutable_antennas() = sheet->antennas();
        *gear.mutable_control_links() = sheet->control_links();
        *gear.mutable_positioning_receivers() = sheet->positioning_receivers();
        if (parts.places().empty() && parts.areas().empty() && parts.pilots().empty() &&
            parts.relays().empty())
            refuse(Refusal{Refusal::Kind::malformed, "", "there is nothing in it",
                           "[[pilot]], [[relay]], [[field.place]] or [[field.area]]"});
        if (state_.sheet().pilots_size() + parts.pilots_size() >
                static_cast<int>(book::pilots_max) ||
            state_.sheet().relays_size() + parts.relays_size() > static_cast<int>(book::relays_max))
            refuse(Refusal{Refusal::Kind::out_of_range, "", "the day is full",
                           fmt::format("at most {} pilots and {} relays", book::pilots_max,
                                       book::relays_max)});
    }

    v1::Command command_;
    const v1::DayState& state_;
    std::uint32_t asker_;
    std::optional<Refusal> wrong_;
};

}  // namespace

Result<v1::Command> resolve(v1::Command command, const v1::DayState& state, std::uint32_t asker) {
    return Resolver(std::move(command), state, asker).resolved();
}

}  // namespace fieldpeg::service
