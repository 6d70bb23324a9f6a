#include "server/service/resolve.h"

#include "server/book/channels.h"
#include "server/book/day_file.h"
#include "server/book/library.h"
#include "server/book/names.h"
#include "server/book/parts.h"
#include "server/book/sweep.h"
#include "server/day/differences.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
#include "server/service/input.h"
#include "server/service/lookalikes.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace fieldpeg::service {
namespace {

using book::find_named;
using book::names_of;

/// More than there are transmitters cannot be meant.
constexpr auto assignments_max = static_cast<int>(book::pilots_max + book::relays_max);
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
    if (!book::is_visible(text))
        return Refusal{Refusal::Kind::malformed, what,
                       "has control or invisible characters, or is not UTF-8",
                       "a text of one line that can be seen"};
    return std::nullopt;
}

std::vector<std::string> both(std::vector<std::string> names,
                              const std::vector<std::string>& more) {
    names.insert(names.end(), more.begin(), more.end());
    return names;
}

/// What may be called by its name in a day, and be written otherwise.
std::vector<std::string> names_in(const v1::DaySheet& sheet) {
    std::vector<std::string> all;
    const auto add = [&](const auto& list) { all = both(std::move(all), names_of(list)); };
    add(sheet.pilots());
    add(sheet.relays());
    add(sheet.field().places());
    add(sheet.field().areas());
    add(sheet.field().emitters());
    add(sheet.kits());
    add(sheet.emissions());
    add(sheet.receiver_profiles());
    add(sheet.antennas());
    add(sheet.control_links());
    add(sheet.positioning_receivers());
    return all;
}

/// Fills in a command step by step; the first thing that is wrong ends it.
class Resolver {
public:
    Resolver(const v1::DayState& state, std::uint32_t asker) : state_(state), asker_(asker) {}

    Result<day::Command> resolved(v1::Command command) {
        auto done = filled_in(std::move(command));
        if (wrong_) return *std::move(wrong_);
        return done;
    }

private:
    // No default: a new kind of command is looked at here, or this does not compile.
    day::Command filled_in(v1::Command command) {
        switch (command.ask_case()) {
            case v1::Command::kPut:
                return put(command.put());
            case v1::Command::kRemove:
                return remove(std::move(*command.mutable_remove()));
            case v1::Command::kMeasurement:
                return measurement(std::move(*command.mutable_measurement()));
            case v1::Command::kSweep:
                return sweep(std::move(*command.mutable_sweep()));
            case v1::Command::kSetRules:
                return rules(command.set_rules());
            case v1::Command::kClaim:
                return claim(std::move(*command.mutable_claim()));
            case v1::Command::kRelease:
                return release(std::move(*command.mutable_release()));
            case v1::Command::kOn:
                return on(std::move(*command.mutable_on()));
            case v1::Command::kOff:
                return off(std::move(*command.mutable_off()));
            case v1::Command::kSee:
                return see(std::move(*command.mutable_see()));
            case v1::Command::kUnsee:
                return unsee(std::move(*command.mutable_unsee()));
            case v1::Command::kAcknowledgeWarning:
                return std::move(*command.mutable_acknowledge_warning());
            case v1::Command::kNod:
                return nod(std::move(*command.mutable_nod()));
            case v1::Command::kWithdrawKey:
                return withdraw_key(std::move(*command.mutable_withdraw_key()));
            case v1::Command::kRenewTicket:
                return renew_ticket(std::move(*command.mutable_renew_ticket()));
            case v1::Command::kAssign:
                return assign(std::move(*command.mutable_assign()));
            case v1::Command::kCallGroup:
                return call_group(std::move(*command.mutable_call_group()));
            case v1::Command::kCloseField:
                text("because", command.close_field().because());
                return std::move(*command.mutable_close_field());
            case v1::Command::kOpenField:
                return command.open_field();
            case v1::Command::kLeaveLine:
                transmitter(*command.mutable_leave_line()->mutable_transmitter());
                return std::move(*command.mutable_leave_line());
            case v1::Command::kMoveInLine:
                transmitter(*command.mutable_move_in_line()->mutable_transmitter());
                return std::move(*command.mutable_move_in_line());
            case v1::Command::kHandOver:
                person(*command.mutable_hand_over()->mutable_name());
                return std::move(*command.mutable_hand_over());
            case v1::Command::kWalk:
                transmitter(*command.mutable_walk()->mutable_transmitter());
                return std::move(*command.mutable_walk());
            case v1::Command::kChangePilot:
                return change(std::move(*command.mutable_change_pilot()));
            case v1::Command::kTakeDay:
                return take_day(std::move(*command.mutable_take_day()));
            case v1::Command::ASK_NOT_SET:
                break;
        }
        refuse(Refusal{Refusal::Kind::malformed, "command", "asks for nothing that is known here",
                       "client and server are of different versions: use the client that came "
                       "with the server"});
        return {};
    }

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

    /// One thing, or all that somebody entered.
    void either(bool has_one, const char* one, bool has_all) {
        if (has_one && has_all)
            refuse(Refusal{Refusal::Kind::malformed, "by", fmt::format("goes without a {}", one),
                           "one of them, or all that somebody entered"});
    }

    v1::Unsee unsee(v1::Unsee asked) {
        either(asked.sighting() != 0, "number", !asked.by().empty());
        if (!asked.by().empty()) settle("by", *asked.mutable_by(), names_of(state_.people()));
        return asked;
    }

    v1::Remove remove(v1::Remove asked) {
        either(!asked.name().empty(), "name", !asked.by().empty());
        if (!asked.by().empty()) {
            settle("by", *asked.mutable_by(),
                   both(names_of(state_.people()), names_of(state_.sheet().pilots())));
            return asked;
        }
        const auto& emitters = state_.sheet().field().emitters();
        if (const auto* emitter = find_named(emitters, asked.name()))
            asked.set_name(emitter->name());
        else
            transmitter(*asked.mutable_name());
        return asked;
    }

    /// A name of the day or of the library; what the day lacks goes along.
    template <class List, class Into>
    void take_gear(const char* what, std::string& name, const List& of_day, const List& library,
                   Into* gear) {
        settle(what, name, both(names_of(of_day), names_of(library)));
        if (wrong_ || find_named(of_day, name)) return;
        if (const auto* found = find_named(library, name)) *gear->Add() = *found;
    }

    /// A hand or a plane that the antenna can have.
    void turn(const char* what, std::string& written, const v1::Mounting& as_it_is,
              const std::string& antenna, const day::ChangePilot& change) {
        const auto& name = antenna.empty() ? as_it_is.antenna() : antenna;
        const auto* known = find_named(change.gear.antennas(), name);
        if (!known) known = find_named(state_.sheet().antennas(), name);
        if (!known) return;  // said already
        const auto fits = [&](v1::Polarisation::Kind kind) {
            const bool is_hand = kind == v1::Polarisation::rhcp || kind == v1::Polarisation::lhcp;
            return kind != v1::Polarisation::unknown && is_hand == known->circular();
        };
        v1::Polarisation::Kind kind = v1::Polarisation::unknown;
        if (!written.empty()) {
            if (!v1::Polarisation::Kind_Parse(written, &kind) || !fits(kind))
                refuse(Refusal{Refusal::Kind::malformed, what,
                               fmt::format("'{}' is nothing that {} can be",
                                           book::printable(written), known->name()),
                               known->circular() ? "rhcp or lhcp" : "vertical or horizontal"});
        } else if (!fits(as_it_is.polarisation())) {
            written = known->circular() ? "rhcp" : "vertical";
        }
    }

    day::ChangePilot change(v1::ChangePilot asked) {
        day::ChangePilot change;
        transmitter(*asked.mutable_pilot());
        const auto& sheet = state_.sheet();
        const auto& library = book::library();
        if (asked.has_place())
            settle("place", *asked.mutable_place(), names_of(sheet.field().places()));
        if (asked.has_area())
            settle("area", *asked.mutable_area(), names_of(sheet.field().areas()));
        for (const double dbm : asked.power_dbm()) power(dbm);
        for (const auto& written : asked.channels()) {
            std::string why;
            for (auto& one : book::ChannelNames(library.rows()).read_range(written, why))
                change.channels.push_back(std::move(one));
            if (!why.empty())
                refuse(Refusal{Refusal::Kind::malformed, "channels", why, "R1-R8, F4, 5790"});
        }
        if (asked.has_emission())
            take_gear("emission", *asked.mutable_emission(), sheet.emissions(), library.emissions(),
                      change.gear.mutable_emissions());
        if (asked.has_receiver())
            take_gear("receiver", *asked.mutable_receiver(), sheet.receiver_profiles(),
                      library.receivers(), change.gear.mutable_receiver_profiles());
        for (auto* antenna :
             {asked.has_antenna() ? asked.mutable_antenna() : nullptr,
              asked.has_receiver_antenna() ? asked.mutable_receiver_antenna() : nullptr})
            if (antenna)
                take_gear("antenna", *antenna, sheet.antennas(), library.antennas(),
                          change.gear.mutable_antennas());
        if (const auto* who = day::pilot(sheet, asked.pilot()); who && !wrong_) {
            if (asked.has_antenna() || asked.has_polarisation())
                turn("polarisation", *asked.mutable_polarisation(), who->video().mounting(),
                     asked.antenna(), change);
            const auto* meant = asked.of_receiver().empty() && !who->receivers().empty()
                                    ? &who->receivers(0)
                                    : find_named(who->receivers(), asked.of_receiver());
            if (meant != nullptr &&
                (asked.has_receiver_antenna() || asked.has_receiver_polarisation()))
                turn("polarisation", *asked.mutable_receiver_polarisation(), meant->mounting(),
                     asked.receiver_antenna(), change);
        }
        change.asked = std::move(asked);
        return change;
    }

    /// The whole file, or all that is wrong with it.
    day::TakeDay take_day(v1::TakeDay asked) {
        text("file", asked.file());
        text("only", asked.only());
        if (wrong_) return {};
        book::Problems problems;
        auto file =
            book::read_day(asked.toml(), asked.file().empty() ? "day" : asked.file(), problems);
        if (!file) {
            std::string all;
            for (const auto& p : problems) all += (all.empty() ? "" : "\n") + book::to_string(p);
            refuse(Refusal{Refusal::Kind::malformed, "", all, "nothing was taken over"});
            return {};
        }
        if (!asked.only().empty())
            settle("only", *asked.mutable_only(),
                   both({"day", "rules", "services"},
                        both(names_in(state_.sheet()), names_in(*file))));
        asked.clear_toml();
        return {std::move(asked), *std::move(file)};
    }

    v1::CallGroup call_group(v1::CallGroup asked) {
        for (auto& name : *asked.mutable_but()) transmitter(name);
        return asked;
    }

    v1::RecordMeasurement measurement(v1::RecordMeasurement asked) {
        transmitter(*asked.mutable_pilot());
        text("note", asked.note());
        const auto away = [&](const char* where, double metres) {
            if (!(metres >= book::distance_m_min && metres <= book::distance_m_max))
                refuse(
                    Refusal{Refusal::Kind::out_of_range, where, fmt::format("is {} m", metres),
                            fmt::format("{} to {} m", book::distance_m_min, book::distance_m_max)});
        };
        const auto of_two = [&](const auto& m) {
            power(m.power_dbm());
            power(m.other_dbm());
            away("away_m", m.away_m());
            away("other_away_m", m.other_away_m());
        };
        const auto offset = [&](double mhz, double least_mhz) {
            constexpr double most_mhz = 400;
            if (!(mhz >= least_mhz && mhz <= most_mhz))
                refuse(Refusal{Refusal::Kind::out_of_range, "offset_mhz",
                               fmt::format("is {} MHz", mhz),
                               fmt::format("how far the other channel lies from one's own, {} to "
                                           "{} MHz",
                                           least_mhz, most_mhz)});
        };
        switch (asked.what_case()) {
            case v1::RecordMeasurement::kWeakest:
                power(asked.weakest().power_dbm());
                away("away_m", asked.weakest().away_m());
                break;
            case v1::RecordMeasurement::kTearing:
                of_two(asked.tearing());
                offset(asked.tearing().offset_mhz(), 5);
                break;
            case v1::RecordMeasurement::kOverload:
                of_two(asked.overload());
                offset(asked.overload().offset_mhz(), 40);
                break;
            case v1::RecordMeasurement::kPower:
                power(asked.power().label_dbm());
                power(asked.power().real_dbm());
                break;
            case v1::RecordMeasurement::WHAT_NOT_SET:
                refuse(Refusal{Refusal::Kind::malformed, "what", "says nothing that was measured",
                               "weakest, tearing, overload or power"});
        }
        return asked;
    }

    v1::EnterSweep sweep(v1::EnterSweep asked) {
        const auto& s = asked.sweep();
        text("note", s.note());
        const auto fine = [](double value, double low, double high) {
            return std::isfinite(value) && value >= low && value <= high;
        };
        const bool levels =
            std::ranges::all_of(s.level_dbm(), [&](float level) { return fine(level, -250, 100); });
        if (s.level_dbm().empty() || s.level_dbm_size() > static_cast<int>(book::sweep_steps_max) ||
            !levels || !fine(s.start_mhz(), book::sweep_mhz_min, book::sweep_mhz_max) ||
            !fine(s.step_mhz(), book::sweep_step_mhz_min, book::sweep_step_mhz_max) ||
            !fine(s.resolution_mhz(), book::sweep_resolution_mhz_min,
                  book::sweep_resolution_mhz_max))
            refuse(Refusal{Refusal::Kind::malformed, "sweep", "is no sweep",
                           "what 'fieldpeg sweep FILE' makes of a file"});
        return asked;
    }

    v1::Release release(v1::Release asked) {
        transmitter(*asked.mutable_transmitter());
        text("reason", asked.reason());
        return asked;
    }

    v1::SwitchOff off(v1::SwitchOff asked) {
        transmitter(*asked.mutable_transmitter());
        text("near", asked.near());
        return asked;
    }

    v1::Nod nod(v1::Nod asked) {
        person(*asked.mutable_name());
        return asked;
    }

    v1::WithdrawKey withdraw_key(v1::WithdrawKey asked) {
        person(*asked.mutable_name());
        return asked;
    }

    v1::RenewTicket renew_ticket(v1::RenewTicket asked) {
        if (!asked.pilot().empty()) pilot(*asked.mutable_pilot());
        return asked;
    }

    v1::ClaimChannel claim(v1::ClaimChannel asked) {
        transmitter(*asked.mutable_transmitter());
        if (asked.has_channel()) channel(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        if (asked.group() > group_max) refuse(outside("group", asked.group(), 0, group_max));
        text("reason", asked.allowed_because());
        return asked;
    }

    v1::Assign assign(v1::Assign asked) {
        if (asked.all_size() > assignments_max)
            refuse(Refusal{Refusal::Kind::out_of_range, "all",
                           fmt::format("are {} shares", asked.all_size()),
                           fmt::format("at most {}, one for each transmitter", assignments_max)});
        for (auto& one : *asked.mutable_all()) {
            if (wrong_) return asked;
            assignment(one);
        }
        text("reason", asked.allowed_because());
        return asked;
    }

    void assignment(v1::Assignment& asked) {
        transmitter(*asked.mutable_transmitter());
        channel(*asked.mutable_channel());
        power(asked.power_dbm());
        if (asked.group() > group_max) refuse(outside("group", asked.group(), 0, group_max));
    }

    v1::SwitchOn on(v1::SwitchOn asked) {
        transmitter(*asked.mutable_transmitter());
        if (asked.has_channel()) channel(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        text("reason", asked.allowed_because());
        return asked;
    }

    day::HoldAgainst rules(const v1::SetRules& asked) {
        if (asked.rules().empty()) return {};
        const auto& known = book::library().rule_sets();
        if (const auto* found = find_named(known, asked.rules())) return {*found};
        refuse(unknown("rules", asked.rules(), names_of(known)));
        return {};
    }

    /// Nobody knows an unknown transmitter to less than a megahertz, and the finer the frequencies
    /// of a day, the longer it takes to work out.
    void as_seen(v1::Channel& channel) {
        if (wrong_ || channel.name() != book::ChannelNames::by_mhz(channel.mhz()).name()) return;
        channel = book::ChannelNames::by_mhz(std::round(channel.mhz()));
    }

    day::NoteSighting see(v1::See asked) {
        channel(*asked.mutable_channel());
        as_seen(*asked.mutable_channel());
        if (asked.has_power_dbm()) power(asked.power_dbm());
        text("note", asked.note());
        const auto& field = state_.sheet().field();
        if (!asked.place().empty())
            settle("place", *asked.mutable_place(), names_of(field.places()));
        if (!asked.area().empty()) settle("area", *asked.mutable_area(), names_of(field.areas()));
        if (asked.emission().empty()) asked.set_emission(usual_emission);
        settle("emission", *asked.mutable_emission(),
               both(names_of(state_.sheet().emissions()), names_of(book::library().emissions())));
        v1::Gear gear;
        if (!find_named(state_.sheet().emissions(), asked.emission()))
            if (const auto* e = find_named(book::library().emissions(), asked.emission()))
                *gear.add_emissions() = *e;
        if (!find_named(state_.sheet().antennas(), usual_antenna))
            *gear.add_antennas() = *find_named(book::library().antennas(), usual_antenna);
        return {std::move(asked), std::move(gear)};
    }

    day::PutParts put(const v1::Put& asked) {
        text("file", asked.file());
        book::Problems problems;
        const auto file = asked.has_file() ? asked.file() : "parts";
        auto read = book::read_parts(asked.toml(), file, state_.sheet(), problems);
        if (!read) {
            std::string all;
            for (const auto& p : problems) all += (all.empty() ? "" : "\n") + book::to_string(p);
            refuse(Refusal{Refusal::Kind::malformed, "", all, "nothing was entered"});
            return {};
        }
        const auto* sheet = &read->sheet;
        day::PutParts put;
        if (read->says_head) put.head = day::head_of(*sheet);
        put.gone = std::move(read->gone);
        put.only_new = asked.only_new();
        auto& parts = put.parts;
        *parts.mutable_places() = sheet->field().places();
        *parts.mutable_areas() = sheet->field().areas();
        *parts.mutable_emitters() = sheet->field().emitters();
        for (const auto& kit : sheet->kits())
            if (const auto* known = find_named(state_.sheet().kits(), kit.name());
                !known || known->SerializeAsString() != kit.SerializeAsString())
                *parts.add_kits() = kit;
        *parts.mutable_pilots() = sheet->pilots();
        *parts.mutable_relays() = sheet->relays();
        // Who is known is called as the day calls them, however it was written.
        const auto as_known = [](const auto& known, std::string& name) {
            if (const auto* one = find_named(known, name)) name = one->name();
        };
        for (auto& p : *parts.mutable_pilots())
            as_known(state_.sheet().pilots(), *p.mutable_name());
        for (auto& r : *parts.mutable_relays()) {
            as_known(state_.sheet().relays(), *r.mutable_name());
            as_known(state_.sheet().pilots(), *r.mutable_owner());
        }
        auto& gear = *parts.mutable_gear();
        *gear.mutable_emissions() = sheet->emissions();
        *gear.mutable_receiver_profiles() = sheet->receiver_profiles();
        *gear.mutable_antennas() = sheet->antennas();
        *gear.mutable_control_links() = sheet->control_links();
        *gear.mutable_positioning_receivers() = sheet->positioning_receivers();
        if (!day::says_anything(put))
            refuse(Refusal{Refusal::Kind::malformed, "", "there is nothing in it",
                           "[[pilot]], [[relay]], [[field.place]], [[field.area]] or "
                           "[[field.emitter]]"});
        if (state_.sheet().pilots_size() + parts.pilots_size() >
                static_cast<int>(book::pilots_max) ||
            state_.sheet().relays_size() + parts.relays_size() > static_cast<int>(book::relays_max))
            refuse(Refusal{Refusal::Kind::out_of_range, "", "the day is full",
                           fmt::format("at most {} pilots and {} relays", book::pilots_max,
                                       book::relays_max)});
        refuse(deceives(state_, parts));
        return put;
    }

    const v1::DayState& state_;
    std::uint32_t asker_;
    std::optional<Refusal> wrong_;
};

}  // namespace

Result<day::Command> resolve(v1::Command command, const v1::DayState& state, std::uint32_t asker) {
    return Resolver(state, asker).resolved(std::move(command));
}

}  // namespace fieldpeg::service
