#include "server/book/day_file.h"

#include "server/book/channels.h"
#include "server/book/library.h"
#include "server/book/names.h"
#include "server/book/reader.h"
#include "server/spectrum/scene.h"
#include "server/spectrum/units.h"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <set>

namespace fieldpeg::book {
namespace {

constexpr Range metres_range{-100'000, 100'000, "m"};
constexpr Range height_range{0, 20'000, "m above ground"};
constexpr Range radius_range{1, 100'000, "m"};
constexpr Range azimuth_range{-360, 360, "degrees"};
constexpr Range tilt_range{-90, 90, "degrees"};
constexpr Range loss_range{0, 60, "dB"};
constexpr Range power_mw_range{1e-6, 1e5, "mW"};
const Range power_dbm_range{spectrum::power_min.count(), spectrum::power_max.count(), "dBm"};

constexpr double loss_db_default = 0.5;
constexpr double same_power_db = 0.05;

/// What a line says of a relay before relays are read: needed to know what receivers may hear.
struct RelayOf {
    std::string name, owner;
};

/// Reads one day file into a sheet.
class DayReader {
public:
    DayReader(const toml::table& table, const std::string& file, Problems& problems)
        : top_(table, file, "", problems),
          gear_(library()),
          channels_(gear_.rows()),
          relays_(relays_of(table)) {}

    v1::DaySheet read() {
        read_gear(top_, Sourced::may, gear_);
        read_rules(top_, gear_);
        top_.table(
            "day", "day", [&](Reader& r) { read_head(r); }, Need::required);
        top_.table(
            "field", "field", [&](Reader& r) { read_field(r); }, Need::required);
        top_.tables("pilot", pilots_max, [&](Reader& r, std::size_t) { read_pilot(r); });
        top_.tables("relay", relays_max, [&](Reader& r, std::size_t) { read_relay(r); });
        top_.finish();
        check_distinct_channels();
        keep_used_gear();
        return std::move(sheet_);
    }

    /// Parts to be put into `base`, which they may refer to.
    v1::DaySheet read_parts(const v1::DaySheet& base) {
        claims_welcome_ = false;
        *sheet_.mutable_field() = base.field();
        *sheet_.mutable_pilots() = base.pilots();
        *sheet_.mutable_relays() = base.relays();
        for (const auto& relay : base.relays()) add_relay_of(relay);
        read_gear(top_, Sourced::may, gear_);
        top_.table("field", "field", [&](Reader& r) { read_places(r); });
        top_.tables("pilot", pilots_max, [&](Reader& r, std::size_t) { read_pilot(r); });
        top_.tables("relay", relays_max, [&](Reader& r, std::size_t) { read_relay(r); });
        top_.finish();
        keep_written();
        keep_used_gear();
        return std::move(sheet_);
    }

private:
    /// What an antenna is fastened to: an aircraft's heading is unknown, a head follows the
    /// aircraft.
    enum class Carrier { aircraft, ground, person };

    static std::vector<RelayOf> relays_of(const toml::table& table) {
        std::vector<RelayOf> relays;
        if (const auto* array = table["relay"].as_array())
            for (const auto& node : *array)
                if (const auto* relay = node.as_table()) {
                    std::string why;
                    const auto name =
                        proper_name((*relay)["name"].value_or(std::string_view()), why);
                    relays.push_back({name.value_or(""), (*relay)["owner"].value_or("")});
                }
        return relays;
    }

    void read_head(Reader& r) {
        sheet_.set_name(r.name("name", Need::required).value_or(""));
        sheet_.set_date(r.date("date", Need::required).value_or(""));
        const auto rules = r.text("rules");
        if (!rules) return;
        if (const auto* found = known(r, "rules", *rules, gear_.rule_sets(), "rule set"))
            *sheet_.mutable_rules() = *found;
    }

    void read_field(Reader& r) {
        auto* field = sheet_.mutable_field();
        field->set_name(r.name("name", Need::required).value_or(""));
        if (const auto origin = r.numbers("origin", 2, {-180, 180, "degrees"})) {
            field->set_latitude_deg((*origin)[0]);
            field->set_longitude_deg((*origin)[1]);
            if (std::abs((*origin)[0]) > 90)
                r.problem("origin", "has a latitude beyond 90 degrees", "[latitude, longitude]");
        }
        read_places(r);
    }

    void read_places(Reader& r) {
        r.tables("place", places_max, [&](Reader& place, std::size_t) { read_place(place); });
        r.tables("area", areas_max, [&](Reader& area, std::size_t) { read_area(area); });
    }

    /// Where one of this name goes: in the place of one that has it, or at the end.
    template <class List>
    static auto& place_named(List& list, const std::string& name) {
        for (auto& one : list)
            if (!name.empty() && name_key(one.name()) == name_key(name)) return one;
        return *list.Add();
    }

    /// A relay that is known already, unless the file writes it anew.
    void add_relay_of(const v1::Relay& relay) {
        for (const auto& written : relays_)
            if (name_key(written.name) == name_key(relay.name())) return;
        relays_.push_back({relay.name(), relay.owner()});
    }

    /// Drops what was only there to be referred to. The owner of a new relay comes along: goggles
    /// that heard the aircraft hear the relay now, if it is the only one.
    void keep_written() {
        const auto is_written = [&](const auto& one) {
            return people_.contains(name_key(one.name()));
        };
        for (auto& pilot : *sheet_.mutable_pilots())
            if (!is_written(pilot) && tune_to_relay(pilot)) people_.insert(name_key(pilot.name()));
        const auto keep = [&](auto* list, auto kept) {
            list->erase(std::remove_if(list->begin(), list->end(),
                                       [&](const auto& one) { return !kept(one); }),
                        list->end());
        };
        keep(sheet_.mutable_pilots(), is_written);
        keep(sheet_.mutable_relays(), is_written);
        keep(sheet_.mutable_field()->mutable_places(),
             [&](const auto& one) { return place_names_.contains(name_key(one.name())); });
        keep(sheet_.mutable_field()->mutable_areas(),
             [&](const auto& one) { return area_names_.contains(name_key(one.name())); });
    }

    bool tune_to_relay(v1::Pilot& pilot) const {
        std::vector<const RelayOf*> own;
        for (const auto& relay : relays_)
            if (name_key(relay.owner) == name_key(pilot.name())) own.push_back(&relay);
        if (own.size() != 1 || !people_.contains(name_key(own.front()->name))) return false;
        bool changed = false;
        for (auto& receiver : *pilot.mutable_receivers()) {
            if (receiver.hears() != "video") continue;
            receiver.set_hears(own.front()->name);
            pilot.add_defaults(
                fmt::format("{}: hears the relay {}", receiver.name(), own.front()->name));
            changed = true;
        }
        return changed;
    }

    void read_place(Reader& r) {
        v1::Place place;
        const auto name = r.name("name", Need::required);
        if (name) r.called(fmt::format("field, place '{}'", *name));
        const auto at = r.numbers("at_m", 2, metres_range, Need::required);
        place.set_height_m(r.number("height_m", height_range, Need::required).value_or(0));
        if (at) {
            place.set_east_m((*at)[0]);
            place.set_north_m((*at)[1]);
        }
        if (name) {
            place.set_name(*name);
            is_new(r, place_names_, *name);
            place_named(*sheet_.mutable_field()->mutable_places(), *name) = std::move(place);
        }
    }

    void read_area(Reader& r) {
        v1::Area area;
        const auto name = r.name("name", Need::required);
        if (name) r.called(fmt::format("field, area '{}'", *name));
        if (const auto centre = r.numbers("centre_m", 2, metres_range, Need::required)) {
            area.set_east_m((*centre)[0]);
            area.set_north_m((*centre)[1]);
        }
        area.set_radius_m(r.number("radius_m", radius_range, Need::required).value_or(1));
        if (const auto heights = r.numbers("height_m", 2, height_range, Need::required)) {
            area.set_low_m((*heights)[0]);
            area.set_high_m((*heights)[1]);
            if ((*heights)[0] > (*heights)[1])
                r.problem("height_m", "has its ends the wrong way round", "[lowest, highest]");
        }
        if (name) {
            area.set_name(*name);
            is_new(r, area_names_, *name);
            place_named(*sheet_.mutable_field()->mutable_areas(), *name) = std::move(area);
        }
    }

    void read_pilot(Reader& r) {
        v1::Pilot pilot;
        const auto name = r.name("name", Need::required);
        if (name) {
            r.called(fmt::format("pilot '{}'", *name));
            is_new(r, people_, *name);
            pilot.set_name(*name);
        }
        pilot.set_place(place(r, "place", Need::required));
        const auto area = r.text("area", r.has("video") ? Need::required : Need::optional);
        if (area)
            if (const auto* a = known(r, "area", *area, sheet_.field().areas(), "area"))
                pilot.set_area(a->name());
        pilot.set_bench_place(place(r, "bench_place", Need::optional));
        onboard(r, pilot);
        auto* defaults = pilot.mutable_defaults();
        r.table("video", "video", [&](Reader& video) {
            *pilot.mutable_video() = read_transmitter(video, "video", Carrier::aircraft, *defaults);
        });
        r.tables("receiver", receivers_max, [&](Reader& receiver, std::size_t index) {
            *pilot.add_receivers() = read_receiver(receiver, index, "goggles", pilot.name(), &pilot,
                                                   *defaults, pilot.receivers());
        });
        r.table("claim", "claim", [&](Reader& claim) {
            auto read = read_claim(claim, pilot.video());
            if (!pilot.has_video())
                claim.problem("", "is held by nobody", "a [pilot.video] that it is for");
            else if (read)
                *pilot.mutable_claim() = *std::move(read);
        });
        place_named(*sheet_.mutable_pilots(), pilot.name()) = std::move(pilot);
    }

    void onboard(Reader& r, v1::Pilot& pilot) {
        if (const auto name = r.text("control_link"))
            if (const auto* c =
                    known(r, "control_link", *name, gear_.control_links(), "control link"))
                pilot.set_control_link(c->name());
        if (const auto name = r.text("positioning_receiver"))
            if (const auto* p = known(r, "positioning_receiver", *name,
                                      gear_.positioning_receivers(), "positioning receiver"))
                pilot.set_positioning_receiver(p->name());
    }

    void read_relay(Reader& r) {
        v1::Relay relay;
        const auto name = r.name("name", Need::required);
        if (name) {
            r.called(fmt::format("relay '{}'", *name));
            is_new(r, people_, *name);
            relay.set_name(*name);
            if (name_key(*name) == "video")
                r.problem("name", "'video' is what receivers call their owner's aircraft",
                          "another name");
        }
        const v1::Pilot* owner = nullptr;
        if (const auto written = r.text("owner", Need::required)) {
            owner = known(r, "owner", *written, sheet_.pilots(), "pilot");
            if (owner) relay.set_owner(owner->name());
        }
        relay.set_place(place(r, "place", Need::required));
        auto* defaults = relay.mutable_defaults();
        *relay.mutable_transmitter() = read_transmitter(r, "relay", Carrier::ground, *defaults);
        r.tables("receiver", receivers_max, [&](Reader& receiver, std::size_t index) {
            *relay.add_receivers() = read_receiver(receiver, index, "rx", relay.name(), nullptr,
                                                   *defaults, relay.receivers());
        });
        if (owner && !owner->has_video() && relay.receivers_size() > 0)
            r.problem("receiver", fmt::format("hears nothing, {} has no video", owner->name()),
                      "a [pilot.video] of the owner, or no receiver here");
        r.table("claim", "claim", [&](Reader& claim) {
            auto read = read_claim(claim, relay.transmitter());
            if (!read) return;
            is_own_channel(claim, relay.owner(), *read);
            *relay.mutable_claim() = *std::move(read);
        });
        place_named(*sheet_.mutable_relays(), relay.name()) = std::move(relay);
    }

    void is_own_channel(Reader& claim, const std::string& owner, const v1::Claim& read) {
        for (const auto& other : sheet_.relays())
            if (other.owner() == owner && other.has_claim() &&
                other.claim().channel().mhz() == read.channel().mhz())
                claim.problem("channel",
                              fmt::format("{} is held by '{}' of the same owner already",
                                          read.channel().name(), other.name()),
                              "a channel of its own for each relay");
    }

    v1::Transmitter read_transmitter(Reader& r, const std::string& what, Carrier carrier,
                                     google::protobuf::RepeatedPtrField<std::string>& defaults) {
        v1::Transmitter t;
        if (const auto emission = r.text("emission", Need::required))
            if (const auto* e = known(r, "emission", *emission, gear_.emissions(), "emission"))
                t.set_emission(e->name());
        *t.mutable_mounting() = read_mounting(r, what, carrier, defaults);
        for (const double power : powers(r, "power", powers_max)) t.add_power_dbm(power);
        std::ranges::sort(*t.mutable_power_dbm());
        const auto bench = powers(r, "bench_power", 1);
        if (!bench.empty()) t.set_bench_power_dbm(bench.front());
        read_channels(r, *t.mutable_channels());
        return t;
    }

    v1::Mounting read_mounting(Reader& r, const std::string& what, Carrier carrier,
                               google::protobuf::RepeatedPtrField<std::string>& defaults) {
        v1::Mounting m;
        const v1::Antenna* antenna = nullptr;
        if (const auto name = r.text("antenna", Need::required))
            antenna = known(r, "antenna", *name, gear_.antennas(), "antenna");
        if (antenna) m.set_antenna(antenna->name());
        m.set_polarisation(polarisation(r, antenna, what, defaults));
        const auto loss = r.number("loss_db", loss_range);
        m.set_loss_db(loss.value_or(loss_db_default));
        if (!loss) defaults.Add(fmt::format("{}: loss_db {}", what, loss_db_default));

        const bool directional = antenna && antenna->has_horizontal_width_deg();
        if (carrier == Carrier::aircraft) {  // facing keys are unknown here
            if (directional) defaults.Add(fmt::format("{}: heading unknown", what));
            return m;
        }
        const auto facing = r.number("facing_deg", azimuth_range);
        const auto tilt = r.number("tilt_deg", tilt_range);
        if (facing) m.set_facing_deg(*facing);
        if (tilt) m.set_tilt_deg(*tilt);
        if (carrier == Carrier::person && r.word("facing", {"aircraft"}))
            m.set_faces_aircraft(true);
        if (facing && m.faces_aircraft())
            r.problem("facing", "is given beside facing_deg", "one of the two");
        if (directional && !facing && !m.faces_aircraft())
            defaults.Add(fmt::format("{}: faces {}", what,
                                     carrier == Carrier::ground ? "its owner" : "what it hears"));
        return m;
    }

    v1::Polarisation::Kind polarisation(Reader& r, const v1::Antenna* antenna,
                                        const std::string& what,
                                        google::protobuf::RepeatedPtrField<std::string>& defaults) {
        static const std::vector<std::string> words = {"rhcp", "lhcp", "vertical", "horizontal"};
        const auto word = r.word("polarisation", words);
        v1::Polarisation::Kind kind = v1::Polarisation::vertical;
        if (word) v1::Polarisation::Kind_Parse(*word, &kind);
        if (!antenna) return kind;
        const bool circular = kind == v1::Polarisation::rhcp || kind == v1::Polarisation::lhcp;
        if (antenna->circular() && !word && !r.has("polarisation"))
            r.problem("polarisation", "is missing", "rhcp or lhcp, for a circular antenna");
        else if (word && antenna->circular() != circular)
            r.problem("polarisation", fmt::format("{} does not go with {}", *word, antenna->name()),
                      antenna->circular() ? "rhcp or lhcp" : "vertical or horizontal");
        else if (!word)
            defaults.Add(fmt::format("{}: polarisation vertical", what));
        return kind;
    }

    v1::Receiver read_receiver(Reader& r, std::size_t index, const std::string& kind,
                               const std::string& owner, const v1::Pilot* pilot,
                               google::protobuf::RepeatedPtrField<std::string>& defaults,
                               const google::protobuf::RepeatedPtrField<v1::Receiver>& others) {
        v1::Receiver v;
        const std::string usual = index == 1 ? kind : fmt::format("{}-{}", kind, index);
        v.set_name(r.name("name").value_or(usual));
        if (const auto profile = r.text("receiver", Need::required))
            if (const auto* p = known(r, "receiver", *profile, gear_.receivers(), "receiver"))
                v.set_receiver(p->name());
        *v.mutable_mounting() = read_mounting(r, v.name(), Carrier::person, defaults);
        v.set_place(place(r, "place", Need::optional));
        read_channels(r, *v.mutable_channels());
        v.set_hears(hears(r, owner, pilot, v.name(), defaults));
        for (const auto& other : others)
            if (name_key(other.name()) == name_key(v.name()))
                r.problem("name", fmt::format("'{}' is used twice", v.name()),
                          "a name of its own for each receiver");
        return v;
    }

    /// What a receiver hears: as written, else the owner's only relay, else the owner's video.
    std::string hears(Reader& r, const std::string& owner, const v1::Pilot* pilot,
                      const std::string& receiver,
                      google::protobuf::RepeatedPtrField<std::string>& defaults) {
        std::vector<std::string> choices = {"video"};
        if (pilot)
            for (const auto& relay : relays_)
                if (name_key(relay.owner) == name_key(owner)) choices.push_back(relay.name);
        const auto written = r.text("hears");
        if (written) {
            for (const auto& choice : choices)
                if (name_key(choice) == name_key(*written)) return choice;
            r.problem("hears", fmt::format("'{}' is unknown", printable(*written)),
                      fmt::format("{}", fmt::join(choices, " or ")),
                      r.suggestion(*written, choices));
        } else if (choices.size() > 2) {
            r.problem("hears", "is missing, with two relays",
                      fmt::format("{}", fmt::join(choices, " or ")));
        }
        if (!written && choices.size() == 2)
            defaults.Add(fmt::format("{}: hears the relay {}", receiver, choices.back()));
        return choices.size() == 2 ? choices.back() : choices.front();
    }

    std::optional<v1::Claim> read_claim(Reader& r, const v1::Transmitter& transmitter) {
        v1::Claim claim;
        if (!claims_welcome_)
            r.problem("", "is not entered with the gear", "'fieldpeg claim' asks for a channel");
        const bool on_air = r.boolean("on_air").value_or(false);
        const bool on_bench = r.boolean("on_bench").value_or(false);
        if (on_air && on_bench) r.problem("on_bench", "is given beside on_air", "one of the two");
        claim.set_stage(on_air ? v1::Claim::on_air : on_bench ? v1::Claim::bench : v1::Claim::held);
        const auto channel = claim_channel(r, transmitter);
        const auto power = claim_power(r, transmitter);
        if (!channel || !power) return std::nullopt;
        *claim.mutable_channel() = *channel;
        claim.set_power_dbm(*power);
        return claim;
    }

    std::optional<v1::Channel> claim_channel(Reader& r, const v1::Transmitter& transmitter) {
        const auto written = one_channel(r, "channel");
        if (!written) return std::nullopt;
        std::string why;
        auto channel = channels_.read(*written, why);
        if (!channel) {
            r.problem("channel", why);
            return std::nullopt;
        }
        const auto& allowed = transmitter.channels();
        const bool fits = allowed.empty() || std::ranges::find(allowed, channel->mhz(),
                                                               &v1::Channel::mhz) != allowed.end();
        if (!fits)
            r.problem("channel", fmt::format("{} is not among its channels", channel->name()),
                      fmt::format("one of {}", fmt::join(names_of(allowed), ", ")));
        return channel;
    }

    /// A channel is a text, or MHz as a number.
    std::optional<std::string> one_channel(Reader& r, std::string_view key) {
        const auto* node = r.raw(key);
        if (node && node->is_number()) return fmt::format("{}", node->value<double>().value_or(0));
        return r.text(key, Need::required);
    }

    std::optional<double> claim_power(Reader& r, const v1::Transmitter& transmitter) {
        const auto& steps = transmitter.power_dbm();
        const auto written = powers(r, "power", 1);
        const bool said = r.has("power_mw") || r.has("power_dbm");
        if (written.empty() && !said && steps.size() == 1) return steps[0];
        if (written.empty()) {
            if (!said) r.problem("power_mw", "is missing", "power_mw or power_dbm");
            return std::nullopt;
        }
        const bool fits = steps.empty() || std::ranges::any_of(steps, [&](double step) {
                              return std::abs(step - written.front()) <= same_power_db;
                          });
        if (!fits) {
            std::vector<std::string> in_mw;
            for (const double step : steps)
                in_mw.push_back(fmt::format("{:.3g}", std::pow(10, step / 10)));
            r.problem(r.has("power_mw") ? "power_mw" : "power_dbm",
                      "is none of the powers it can be set to",
                      fmt::format("one of {} mW", fmt::join(in_mw, ", ")));
        }
        return written.front();
    }

    /// The values of KEY_mw or KEY_dbm, in dBm.
    static std::vector<double> powers(Reader& r, const std::string& key, std::size_t most) {
        auto in_mw = r.one_or_more(key + "_mw", power_mw_range, most);
        auto in_dbm = r.one_or_more(key + "_dbm", power_dbm_range, most);
        if (!in_mw.empty() && !in_dbm.empty())
            r.problem(key + "_dbm", fmt::format("is given beside {}_mw", key), "one of the two");
        if (in_mw.empty()) return in_dbm;
        for (double& power : in_mw) power = 10 * std::log10(power);
        return in_mw;
    }

    void read_channels(Reader& r, google::protobuf::RepeatedPtrField<v1::Channel>& into) {
        for (const auto& written : r.texts("channels", channels_max)) {
            std::string why;
            for (auto& channel : channels_.read_range(written, why)) *into.Add() = channel;
            if (why.empty()) continue;
            r.problem("channels", why);
            into.Clear();  // so that a claim is not reported on top
            return;
        }
        if (into.size() > static_cast<int>(channels_max))
            r.problem("channels", fmt::format("are {} channels", into.size()),
                      fmt::format("at most {}", channels_max));
    }

    std::string place(Reader& r, std::string_view key, Need need) {
        const auto written = r.text(key, need);
        if (!written) return "";
        const auto* found = known(r, key, *written, sheet_.field().places(), "place");
        return found ? found->name() : "";
    }

    /// One of a list by its name; if there is none, that is a problem.
    template <class List>
    auto known(Reader& r, std::string_view key, const std::string& written, const List& list,
               std::string_view kind) -> decltype(&*list.begin()) {
        const auto* found = find_named(list, written);
        if (!found)
            r.problem(key, fmt::format("no {} is called '{}'", kind, printable(written)),
                      list.empty() ? fmt::format("a {} that exists", kind) : "",
                      r.suggestion(written, names_of(list)));
        return found;
    }

    static void is_new(Reader& r, std::set<std::string>& taken, const std::string& name) {
        if (!taken.insert(name_key(name)).second)
            r.problem("name", fmt::format("'{}' is used twice", name),
                      "names that differ by more than case");
    }

    /// Work grows with the cube of the channels in use.
    void check_distinct_channels() {
        std::set<double> held;
        for (const auto& pilot : sheet_.pilots())
            if (pilot.has_claim()) held.insert(pilot.claim().channel().mhz());
        for (const auto& relay : sheet_.relays())
            if (relay.has_claim()) held.insert(relay.claim().channel().mhz());
        if (held.size() > spectrum::distinct_channels_max)
            top_.problem("pilot", fmt::format("{} different channels are held", held.size()),
                         fmt::format("at most {}", spectrum::distinct_channels_max));
    }

    /// Only what the day uses goes with it.
    void keep_used_gear() {
        std::set<std::string> emissions, receivers, antennas, control, positioning;
        const auto use = [&](const v1::Transmitter& t) {
            emissions.insert(t.emission());
            antennas.insert(t.mounting().antenna());
        };
        const auto use_receivers = [&](const auto& list) {
            for (const auto& v : list) {
                receivers.insert(v.receiver());
                antennas.insert(v.mounting().antenna());
            }
        };
        for (const auto& pilot : sheet_.pilots()) {
            if (pilot.has_video()) use(pilot.video());
            use_receivers(pilot.receivers());
            control.insert(pilot.control_link());
            positioning.insert(pilot.positioning_receiver());
        }
        for (const auto& relay : sheet_.relays()) {
            use(relay.transmitter());
            use_receivers(relay.receivers());
        }
        const auto keep = [](const auto& list, const std::set<std::string>& used, auto* into) {
            for (const auto& one : list)
                if (used.contains(one.name())) *into->Add() = one;
        };
        keep(gear_.emissions(), emissions, sheet_.mutable_emissions());
        keep(gear_.receivers(), receivers, sheet_.mutable_receiver_profiles());
        keep(gear_.antennas(), antennas, sheet_.mutable_antennas());
        keep(gear_.control_links(), control, sheet_.mutable_control_links());
        keep(gear_.positioning_receivers(), positioning, sheet_.mutable_positioning_receivers());
        *sheet_.mutable_services() = gear_.services();
        *sheet_.mutable_rows() = gear_.rows();
    }

    Reader top_;
    v1::Library gear_;
    ChannelNames channels_;
    std::vector<RelayOf> relays_;
    v1::DaySheet sheet_;
    std::set<std::string> people_, place_names_, area_names_;
    bool claims_welcome_ = true;
};

/// Sorted by line, and not more than anybody reads.
void tidy(Problems& problems, const std::string& file) {
    std::ranges::stable_sort(problems, {}, &Problem::line);
    if (problems.size() <= problems_max) return;
    const auto more = problems.size() - problems_max;
    problems.resize(problems_max);
    problems.push_back({file, 0, "", fmt::format("{} more problems", more), "", ""});
}

}  // namespace

std::optional<v1::DaySheet> read_day(std::string_view text, const std::string& file,
                                     Problems& problems) {
    const auto before = problems.size();
    const auto table = parse_toml(text, file, problems);
    if (!table) return std::nullopt;
    auto sheet = DayReader(*table, file, problems).read();
    if (problems.size() == before) return sheet;
    tidy(problems, file);
    return std::nullopt;
}

std::optional<v1::DaySheet> read_parts(std::string_view text, const std::string& file,
                                       const v1::DaySheet& base, Problems& problems) {
    const auto before = problems.size();
    if (text.size() > toml_bytes_max) {
        problems.push_back(
            {file, 0, "", "is too long", fmt::format("at most {} bytes", toml_bytes_max), ""});
        return std::nullopt;
    }
    const auto table = parse_toml(text, file, problems);
    if (!table) return std::nullopt;
    auto parts = DayReader(*table, file, problems).read_parts(base);
    if (problems.size() == before) return parts;
    tidy(problems, file);
    return std::nullopt;
}

std::optional<v1::DaySheet> load_day(const std::string& path, Problems& problems) {
    std::error_code error;
    if (std::filesystem::is_directory(path, error)) {
        problems.push_back({path, 0, "", "is a folder", "a day file", ""});
        return std::nullopt;
    }
    std::ifstream in(path, std::ios::binary);
    if (!in) {
        problems.push_back({path, 0, "", fmt::format("cannot be read: {}", std::strerror(errno)),
                            "a day file; 'fieldpeg new' writes one", ""});
        return std::nullopt;
    }
    std::string text(toml_bytes_max + 1, '\0');
    in.read(text.data(), static_cast<std::streamsize>(text.size()));
    text.resize(static_cast<std::size_t>(in.gcount()));
    if (text.size() > toml_bytes_max) {
        problems.push_back(
            {path, 0, "", "is too long", fmt::format("at most {} bytes", toml_bytes_max), ""});
        return std::nullopt;
    }
    return read_day(text, path, problems);
}

}  // namespace fieldpeg::book
