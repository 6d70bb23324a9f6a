#include "server/service/answer.h"

#include "server/book/channels.h"
#include "server/book/library.h"
#include "server/book/names.h"
#include "server/day/bare_day.h"
#include "server/day/check.h"
#include "server/day/explain.h"
#include "server/day/find.h"
#include "server/day/free_channels.h"
#include "server/day/reach.h"
#include "server/day/relay_check.h"
#include "server/day/remarks.h"
#include "server/day/words.h"
#include "server/planning/plan.h"
#include "server/refusal/refusal.h"
#include "server/service/input.h"
#include "server/service/pictures.h"
#include "server/spectrum/hits.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace fieldpeg::service {
namespace {

using book::find_named;
using book::names_of;

v1::Answer refuse(const Refusal& refusal) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message(refusal);
    return answer;
}

v1::Answer no_day() {
    return refuse(
        {Refusal::Kind::malformed, "", "there is no day to ask about", "name one: --day FILE"});
}

std::string meant(const std::string& written, const std::vector<std::string>& known) {
    const auto near = book::nearest(written, known);
    if (!near.empty()) return fmt::format("did you mean '{}'?", near);
    return known.empty() ? "" : fmt::format("known: {}", fmt::join(known, ", "));
}

std::optional<Refusal> fault(const v1::RelayCheckQuery& query) {
    if (query.has_channel())
        if (auto wrong = outside_channel("channel", query.channel())) return wrong;
    if (query.has_power_dbm()) return outside_power("power_dbm", query.power_dbm());
    return std::nullopt;
}

std::optional<Refusal> fault(const v1::BareRelayCheckQuery& query) {
    for (auto& wrong : {outside_channel("channel", query.channel()),
                        outside_channel("neighbour_channel", query.neighbour_channel()),
                        outside_power("power_dbm", query.power_dbm()),
                        outside_power("neighbour_power_dbm", query.neighbour_power_dbm()),
                        outside("owner_distance_m", query.owner_distance_m(), book::distance_m_min,
                                book::distance_m_max),
                        outside("neighbour_distance_m", query.neighbour_distance_m(),
                                book::distance_m_min, book::distance_m_max),
                        outside("neighbour_range_m", query.neighbour_range_m(), book::range_m_min,
                                book::range_m_max)})
        if (wrong) return wrong;
    return std::nullopt;
}

std::optional<Refusal> fault(const v1::ChannelsQuery& query) {
    if (query.channels_size() > channel_set_max)
        return Refusal{Refusal::Kind::out_of_range, "channels",
                       fmt::format("are {}", query.channels_size()),
                       fmt::format("at most {}", channel_set_max)};
    for (const auto& channel : query.channels())
        if (auto wrong = outside_channel("channels", channel)) return wrong;
    return outside("reach_mhz", query.reach_mhz(), 0, spectrum::mhz(spectrum::product_reach));
}

std::size_t contributions(std::uint32_t asked) {
    return std::min<std::size_t>(asked, contributions_max);
}

/// Why there is no such group to look at; none if there is.
std::optional<Refusal> fault(std::optional<std::uint32_t> group, const v1::DaySheet& sheet) {
    const auto groups = day::flight_groups(sheet);
    if (!group || std::ranges::find(groups, *group) != groups.end()) return std::nullopt;
    return Refusal{Refusal::Kind::not_found, "group", fmt::format("there is no group {}", *group),
                   groups.front() == 0 ? "nobody holds a channel in a flight group"
                                       : fmt::format("groups {}", fmt::join(groups, ", "))};
}

template <class Query>
std::optional<std::uint32_t> group_of(const Query& query) {
    return query.has_group() ? std::optional(query.group()) : std::nullopt;
}

template <class Query>
day::Asked asked(const Query& query) {
    return {group_of(query), query.all_at_once()};
}

v1::Answer check(const v1::CheckQuery& query, const v1::DaySheet& sheet) {
    if (const auto wrong = fault(group_of(query), sheet)) return refuse(*wrong);
    v1::Answer answer;
    *answer.mutable_check() =
        day::check(sheet, basis(query.basis()), contributions(query.contributions()), asked(query));
    return answer;
}

v1::Answer explain(const v1::ExplainQuery& query, const v1::DaySheet& sheet) {
    const auto* pilot = find_named(sheet.pilots(), query.pilot());
    if (!pilot)
        return refuse({Refusal::Kind::not_found, "pilot",
                       fmt::format("nobody is called '{}'", book::printable(query.pilot())),
                       meant(query.pilot(), names_of(sheet.pilots()))});
    if (const auto wrong = fault(group_of(query), sheet)) return refuse(*wrong);
    v1::Answer answer;
    *answer.mutable_explain() = day::explain(sheet, *pilot, basis(query.basis()),
                                             contributions(query.contributions()), asked(query));
    return answer;
}

v1::Answer reach(const v1::ReachQuery& query, const v1::DaySheet& sheet) {
    const auto* pilot = find_named(sheet.pilots(), query.pilot());
    if (!pilot)
        return refuse({Refusal::Kind::not_found, "pilot",
                       fmt::format("nobody is called '{}'", book::printable(query.pilot())),
                       meant(query.pilot(), names_of(sheet.pilots()))});
    auto reply = day::reach(sheet, *pilot, basis(query.basis()));
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_reach() = *std::move(reply);
    return answer;
}

v1::Answer find(const v1::FindQuery& query, const v1::DaySheet& sheet) {
    const auto* pilot = find_named(sheet.pilots(), query.transmitter());
    if (!pilot)
        return refuse({Refusal::Kind::not_found, "pilot",
                       fmt::format("nobody is called '{}'", book::printable(query.transmitter())),
                       meant(query.transmitter(), names_of(sheet.pilots()))});
    auto reply = day::find(sheet, *pilot);
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_find() = *std::move(reply);
    return answer;
}

v1::Answer relay_check(v1::RelayCheckQuery query, const v1::DaySheet& sheet) {
    if (const auto wrong = fault(query)) return refuse(*wrong);
    query.set_basis(basis(query.basis()));
    const auto* relay = find_named(sheet.relays(), query.relay());
    if (!relay)
        return refuse({Refusal::Kind::not_found, "relay",
                       fmt::format("no relay is called '{}'", book::printable(query.relay())),
                       meant(query.relay(), names_of(sheet.relays()))});
    if (const auto wrong = fault(group_of(query), sheet)) return refuse(*wrong);
    query.set_relay(relay->name());
    const auto reply = day::relay_check(sheet, query);
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_relay_check() = *reply;
    return answer;
}

/// The usual receiver and antenna for the band that a channel lies in.
std::string receiver_for(const v1::Channel& channel) {
    if (channel.mhz() < 2000) return "fm-video-1g3";
    return channel.mhz() < 4000 ? "fm-video-2g4" : "fm-video-5g8";
}
std::string antenna_for(const v1::Channel& channel) {
    return channel.mhz() < 2000 ? "vertical-omni-1g3" : "circular-omni";
}

/// Puts the library's own spelling in the place of a name, or `usual` where there is none. False if
/// the library has no such thing.
template <class List>
bool settle(std::string& name, const std::string& usual, const List& list) {
    const auto* found = find_named(list, name.empty() ? usual : name);
    if (found) name = found->name();
    return found != nullptr;
}

v1::Answer bare_relay_check(v1::BareRelayCheckQuery query) {
    if (const auto wrong = fault(query)) return refuse(*wrong);
    const auto& library = book::library();
    const auto unknown = [&](const char* kind, const std::string& name, const auto& list) {
        return refuse({Refusal::Kind::not_found, kind,
                       fmt::format("no {} is called '{}'", kind, book::printable(name)),
                       meant(name, names_of(list))});
    };
    const auto& mine = query.channel();
    const auto& theirs = query.neighbour_channel();
    if (!settle(*query.mutable_emission(), usual_emission, library.emissions()))
        return unknown("emission", query.emission(), library.emissions());
    for (auto [name, channel] : {std::pair(query.mutable_receiver(), &mine),
                                 std::pair(query.mutable_neighbour_receiver(), &theirs)})
        if (!settle(*name, receiver_for(*channel), library.receivers()))
            return unknown("receiver", *name, library.receivers());
    for (auto [name, channel] : {std::pair(query.mutable_antenna(), &mine),
                                 std::pair(query.mutable_neighbour_antenna(), &theirs)})
        if (!settle(*name, antenna_for(*channel), library.antennas()))
            return unknown("antenna", *name, library.antennas());

    std::vector<std::string> assumed;
    const auto sheet = day::bare_day(query, library, assumed);
    v1::RelayCheckQuery inner;
    inner.set_relay(std::string(day::bare_relay_name));
    inner.set_power_dbm(query.power_dbm());
    *inner.mutable_channel() = query.channel();
    auto answer = relay_check(inner, sheet);
    for (auto& text : assumed) answer.mutable_relay_check()->add_assumed(text);
    return answer;
}

template <class List, class Into>
void keep_named(const List& list, const std::string& name, Into* into) {
    for (const auto& one : list)
        if (name.empty() || book::name_key(one.name()) == book::name_key(name)) *into->Add() = one;
}

v1::Answer gear(const v1::GearQuery& query, const v1::DaySheet* sheet) {
    v1::Library all = book::library();
    const auto with_day = [](const auto& of_day, auto* list) {
        for (const auto& own : of_day) {
            const auto known = std::ranges::find_if(
                *list, [&](const auto& one) { return one.name() == own.name(); });
            if (known != list->end())
                *known = own;
            else
                *list->Add() = own;
        }
    };
    if (sheet) {
        with_day(sheet->emissions(), all.mutable_emissions());
        with_day(sheet->receiver_profiles(), all.mutable_receivers());
        with_day(sheet->antennas(), all.mutable_antennas());
        with_day(sheet->control_links(), all.mutable_control_links());
        with_day(sheet->positioning_receivers(), all.mutable_positioning_receivers());
        with_day(sheet->kits(), all.mutable_kits());
        if (sheet->has_rules()) with_day(std::vector{sheet->rules()}, all.mutable_rule_sets());
    }
    v1::Answer answer;
    auto* found = answer.mutable_gear()->mutable_library();
    const auto& name = query.name();
    keep_named(all.emissions(), name, found->mutable_emissions());
    keep_named(all.receivers(), name, found->mutable_receivers());
    keep_named(all.antennas(), name, found->mutable_antennas());
    keep_named(all.control_links(), name, found->mutable_control_links());
    keep_named(all.positioning_receivers(), name, found->mutable_positioning_receivers());
    keep_named(all.rule_sets(), name, found->mutable_rule_sets());
    keep_named(all.kits(), name, found->mutable_kits());
    if (name.empty()) {
        *found->mutable_rows() = all.rows();
        *found->mutable_services() = all.services();
    }
    if (found->ByteSizeLong() > 0) return answer;

    std::vector<std::string> known;
    for (const auto& list :
         {names_of(all.emissions()), names_of(all.receivers()), names_of(all.antennas()),
          names_of(all.control_links()), names_of(all.positioning_receivers()),
          names_of(all.rule_sets()), names_of(all.kits())})
        known.insert(known.end(), list.begin(), list.end());
    return refuse({Refusal::Kind::not_found, "gear",
                   fmt::format("nothing is called '{}'", book::printable(name)),
                   meant(name, known)});
}

void add_distances(v1::ChannelsReply& reply) {
    for (int a = 0; a < reply.channels_size(); ++a) {
        for (int b = a + 1; b < reply.channels_size(); ++b) {
            auto* d = reply.add_distances();
            d->set_a(reply.channels(a).name());
            d->set_b(reply.channels(b).name());
            d->set_mhz(day::milli(std::abs(reply.channels(a).mhz() - reply.channels(b).mhz())));
        }
    }
    std::ranges::stable_sort(*reply.mutable_distances(), {}, &v1::ChannelDistance::mhz);
}

void add_hits(const std::vector<spectrum::Hertz>& set, spectrum::Hertz reach,
              v1::ChannelsReply& reply) {
    const auto hits = spectrum::third_order_hits(set, reach);
    reply.set_hits_within_reach(static_cast<std::uint32_t>(hits.size()));
    for (const auto& hit : hits) {
        if (hit.offset == spectrum::Hertz(0)) {
            if (hit.from.size() == 2)
                reply.set_exact_two_signal(reply.exact_two_signal() + 1);
            else
                reply.set_exact_three_signal(reply.exact_three_signal() + 1);
        }
        if (reply.hits_size() == hits_max) continue;
        auto* m = reply.add_hits();
        for (const auto from : hit.from) m->add_from(reply.channels(static_cast<int>(from)).name());
        m->set_on(reply.channels(static_cast<int>(hit.on)).name());
        m->set_product_mhz(day::milli(spectrum::mhz(hit.product)));
        m->set_offset_mhz(day::milli(spectrum::mhz(hit.offset)));
    }
}

v1::Answer channels(const v1::ChannelsQuery& query, const v1::DaySheet* sheet) {
    v1::Answer answer;
    auto& reply = *answer.mutable_channels();
    if (query.channels().empty()) {
        *reply.mutable_rows() = book::library().rows();
        return answer;
    }
    if (const auto wrong = fault(query)) return refuse(*wrong);
    std::vector<spectrum::Hertz> set;
    for (const auto& channel : query.channels()) {
        const auto frequency = spectrum::from_mhz(channel.mhz());
        if (std::ranges::find(set, frequency) != set.end())
            return refuse({Refusal::Kind::malformed, "channels",
                           fmt::format("{} is in the set twice", day::channel_text(channel)),
                           "each channel once"});
        set.push_back(frequency);
        *reply.add_channels() = channel;
        const auto* video = find_named(book::library().emissions(), usual_emission);
        const day::Occupied occupied{channel, video->occupied_mhz(), std::nullopt};
        for (auto& remark :
             day::remarks(occupied, sheet && sheet->has_rules() ? &sheet->rules() : nullptr,
                          book::library().services()))
            *reply.add_remarks() = remark;
    }
    add_distances(reply);
    add_hits(set, spectrum::from_mhz(query.reach_mhz()), reply);
    return answer;
}

}  // namespace

v1::Answer free_answer(v1::FreeQuery query, const v1::DayState& state, day::Memory& memory) {
    const auto& sheet = state.sheet();
    const auto settle = [&](const auto& list) {
        const auto* found = find_named(list, query.transmitter());
        if (found) query.set_transmitter(found->name());
        return found != nullptr;
    };
    if (!settle(sheet.pilots()) && !settle(sheet.relays()))
        return refuse({Refusal::Kind::not_found, "transmitter",
                       fmt::format("nobody and nothing here is called '{}'",
                                   book::printable(query.transmitter())),
                       meant(query.transmitter(), names_of(sheet.pilots()))});
    if (const auto wrong = outside("group", query.group(), 0, group_max)) return refuse(*wrong);
    auto reply = day::free_channels(state, query, memory);
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_free() = *std::move(reply);
    return answer;
}

v1::Answer answer(const v1::Query& query, const v1::DaySheet* sheet) {
    switch (query.ask_case()) {
        case v1::Query::kCheck:
            return sheet ? check(query.check(), *sheet) : no_day();
        case v1::Query::kExplain:
            return sheet ? explain(query.explain(), *sheet) : no_day();
        case v1::Query::kReach:
            return sheet ? reach(query.reach(), *sheet) : no_day();
        case v1::Query::kFind:
            return sheet ? find(query.find(), *sheet) : no_day();
        case v1::Query::kFree: {
            if (!sheet) return no_day();
            v1::DayState state;
            *state.mutable_sheet() = *sheet;
            day::Memory memory;
            return free_answer(query.free(), state, memory);
        }
        case v1::Query::kRelayCheck:
            return sheet ? relay_check(query.relay_check(), *sheet) : no_day();
        case v1::Query::kBareRelayCheck:
            return bare_relay_check(query.bare_relay_check());
        case v1::Query::kGear:
            return gear(query.gear(), sheet);
        case v1::Query::kChannels:
            return channels(query.channels(), sheet);
        case v1::Query::kPlan:
        case v1::Query::kRota:
        case v1::Query::kRoom:
            return sheet ? planning::plan(query, *sheet, {}) : no_day();
        case v1::Query::kDay: {
            if (!sheet) return no_day();
            v1::Answer answer;
            *answer.mutable_day()->mutable_sheet() = *sheet;
            return answer;
        }
        case v1::Query::kSpectrumPicture:
            return sheet ? spectrum_picture(query.spectrum_picture(), *sheet) : no_day();
        case v1::Query::kReachPicture:
            return sheet ? reach_picture(query.reach_picture(), *sheet) : no_day();
        case v1::Query::kFieldPicture:
            return sheet ? field_picture(query.field_picture(), *sheet) : no_day();
        case v1::Query::kBoard:
        case v1::Query::kLog:
        case v1::Query::kReady:
        case v1::Query::kNear:
        case v1::Query::kTimelinePicture:
        case v1::Query::kAirtime:
            return refuse({Refusal::Kind::malformed, "",
                           "that is answered from the log of a day, and "
                           "there is none here",
                           "join a server, or name a day: --day FILE"});
        case v1::Query::ASK_NOT_SET:
            break;
    }
    return refuse({Refusal::Kind::malformed, "", "nothing was asked", ""});
}

}  // namespace fieldpeg::service
