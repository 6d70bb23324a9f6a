#include "server/book/library.h"

#include "server/book/channels.h"
#include "server/book/embedded.h"
#include "server/book/kits.h"
#include "server/book/names.h"
#include "server/book/reader.h"
#include "server/spectrum/antenna.h"
#include "server/spectrum/bandwidth.h"
#include "server/spectrum/curve.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/rejection.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

namespace fieldpeg::book {
namespace {

using spectrum::Hertz;

constexpr Range offset_range{0, 10'000, "MHz"};
constexpr Range level_range{-300, 300, "dB"};
constexpr Range mhz_range{1, 20'000, "MHz"};
constexpr Range db_range{0, 120, "dB"};
constexpr Range dbm_range{-120, 60, "dBm"};

const std::vector<std::string> provenance_words = {"published", "derived", "assumed", "measured"};

v1::Provenance::Kind provenance_kind(const std::string& word) {
    v1::Provenance::Kind kind = v1::Provenance::unknown;
    v1::Provenance::Kind_Parse(word, &kind);
    return kind;
}

/// One [kind, source] pair.
template <class Message>
void add_provenance(const std::string& key, const std::vector<std::string>& pair, Reader& at,
                    Message& into) {
    const auto kind = pair.size() == 2 ? provenance_kind(pair[0]) : v1::Provenance::unknown;
    if (kind == v1::Provenance::unknown || kind == v1::Provenance::declared || pair[1].empty()) {
        at.problem(
            key, "is no provenance",
            "[kind, source], kind one of " + fmt::format("{}", fmt::join(provenance_words, ", ")));
        return;
    }
    auto* provenance = into.add_provenance();
    provenance->set_key(key);
    provenance->set_kind(kind);
    provenance->set_source(pair[1]);
}

/// The provenance of each of `keys` that the definition has.
template <class Message>
void read_provenance(Reader& definition, const std::vector<std::string>& keys, Sourced sourced,
                     Message& into) {
    std::vector<std::string> present;
    for (const auto& key : keys)
        if (definition.has(key)) present.push_back(key);
    const auto declared = [&](const std::string& key) {
        auto* provenance = into.add_provenance();
        provenance->set_key(key);
        provenance->set_kind(v1::Provenance::declared);
        provenance->set_source("the day file");
    };
    const auto need = sourced == Sourced::must ? Need::required : Need::optional;
    const bool said = definition.table(
        "provenance", "provenance",
        [&](Reader& table) {
            for (const auto& key : present) {
                if (table.has(key))
                    add_provenance(key, table.texts(key, 2), table, into);
                else if (sourced == Sourced::must)
                    table.problem(key, "is missing", "[kind, source]");
                else
                    declared(key);
            }
        },
        need);
    if (!said && sourced == Sourced::may) std::ranges::for_each(present, declared);
}

std::vector<spectrum::Curve::Knot> knots(const std::vector<std::pair<double, double>>& pairs) {
    std::vector<spectrum::Curve::Knot> list;
    list.reserve(pairs.size());
    for (const auto& [offset_mhz, level_db] : pairs)
        list.push_back({spectrum::from_mhz(offset_mhz), spectrum::Decibel(level_db)});
    return list;
}

template <class Field>
void put(const std::vector<std::pair<double, double>>& pairs, Field* field) {
    for (const auto& [offset_mhz, level_db] : pairs) {
        auto* knot = field->Add();
        knot->set_offset_mhz(offset_mhz);
        knot->set_level_db(level_db);
    }
}

std::vector<std::pair<double, double>> curve(Reader& r, std::string_view key) {
    return r.pairs(key, offset_range, level_range, spectrum::Curve::knots_max, Need::required);
}

double rounded(double value, double step) {
    return std::round(value / step) * step;
}

void refuse(Reader& r, std::string_view key, const Refusal& refusal) {
    r.problem(key, refusal.where + ": " + refusal.why);
}

/// A band of two frequencies, lower first.
template <class Message>
void read_band(Reader& r, std::string_view key, Message& into) {
    const auto band = r.numbers(key, 2, mhz_range, Need::required);
    if (!band) return;
    into.set_low_mhz((*band)[0]);
    into.set_high_mhz((*band)[1]);
    if ((*band)[0] >= (*band)[1])
        r.problem(key, "has its ends the wrong way round", "[lower, upper]");
}

v1::Emission read_emission(Reader& r, Sourced sourced) {
    v1::Emission e;
    e.set_title(r.text("title").value_or(""));
    const auto pairs = curve(r, "density_db");
    put(pairs, e.mutable_density());
    if (!pairs.empty()) {
        const auto density = spectrum::Density::make(knots(pairs));
        if (density)
            e.set_occupied_mhz(
                rounded(spectrum::mhz(spectrum::occupied_bandwidth(*density)), 1e-3));
        else
            refuse(r, "density_db", density.error());
    }
    e.set_sigma_mhz(r.number("sigma_mhz", {0.01, 1000, "MHz"}, Need::required).value_or(1));
    e.set_constant_envelope(r.boolean("constant_envelope", Need::required).value_or(true));

    const auto necessary = r.number("necessary_mhz", {0.001, 1000, "MHz"});
    const auto modulating = r.number("modulating_mhz", {0.001, 1000, "MHz"});
    const auto deviation = r.number("deviation_mhz", {0.001, 1000, "MHz"});
    if (necessary)
        e.set_necessary_mhz(*necessary);
    else if (modulating && deviation)
        e.set_necessary_mhz(spectrum::mhz(spectrum::necessary_bandwidth_fm(
            spectrum::from_mhz(*modulating), spectrum::from_mhz(*deviation))));
    if (necessary && (modulating || deviation))
        r.problem("necessary_mhz", "is given beside modulating_mhz and deviation_mhz",
                  "either it, or those two, 2 M + 2 D being the necessary bandwidth");
    if (modulating) e.set_modulating_mhz(*modulating);
    if (deviation) e.set_deviation_mhz(*deviation);
    const auto kind = r.text("class").value_or("");
    if (e.necessary_mhz() > 0)
        e.set_designator(spectrum::bandwidth_symbol(e.necessary_mhz() * 1e6) + kind);
    read_provenance(r,
                    {"density_db", "sigma_mhz", "constant_envelope", "class", "modulating_mhz",
                     "deviation_mhz", "necessary_mhz"},
                    sourced, e);
    return e;
}

/// The noise figure itself, or that of a chain of stages.
double noise_figure_db(Reader& r) {
    if (!r.has("cascade"))
        return r.number("noise_figure_db", {0, 40, "dB"}, Need::required).value_or(0);
    std::vector<spectrum::Stage> stages;
    r.tables("cascade", 16, [&](Reader& stage, std::size_t) {
        const auto gain = stage.number("gain_db", {-60, 60, "dB"}, Need::required);
        const auto figure = stage.number("noise_figure_db", {0, 40, "dB"}, Need::required);
        if (gain && figure)
            stages.push_back({spectrum::Decibel(*gain), spectrum::Decibel(*figure)});
    });
    if (r.has("noise_figure_db"))
        r.problem("cascade", "is given beside noise_figure_db", "one of the two");
    if (!stages.empty()) return rounded(spectrum::cascade_noise_figure(stages).count(), 1e-3);
    r.problem("cascade", "has no stage", "[{gain_db = 15, noise_figure_db = 1}, ...]");
    return 0;
}

v1::ReceiverProfile read_receiver(
    Reader& r, Sourced sourced, const google::protobuf::RepeatedPtrField<v1::Emission>& emissions) {
    v1::ReceiverProfile p;
    p.set_title(r.text("title").value_or(""));
    const auto pairs = curve(r, "selectivity_db");
    put(pairs, p.mutable_selectivity());
    if (!pairs.empty()) {
        const auto selectivity = spectrum::Selectivity::make(knots(pairs));
        if (selectivity)
            p.set_noise_bandwidth_mhz(
                rounded(spectrum::mhz(spectrum::noise_bandwidth(*selectivity)), 1e-3));
        else
            refuse(r, "selectivity_db", selectivity.error());
    }
    p.set_noise_figure_db(noise_figure_db(r));
    const auto required = [&](std::string_view key, Range range) {
        return r.number(key, range, Need::required).value_or(range.low);
    };
    p.set_iip3_dbm(required("iip3_dbm", dbm_range));
    p.set_p1db_dbm(required("p1db_dbm", dbm_range));
    p.set_strongest_wanted_dbm(required("strongest_wanted_dbm", dbm_range));
    p.set_watchable_db(required("watchable_db", {-30, 60, "dB"}));
    p.set_sharp_db(required("sharp_db", {-30, 60, "dB"}));
    if (p.sharp_db() < p.watchable_db())
        r.problem("sharp_db", "is below watchable_db", "a sharp picture to need more");
    if (const auto band = r.numbers("front_end_mhz", 2, mhz_range, Need::required)) {
        p.set_front_end_low_mhz((*band)[0]);
        p.set_front_end_high_mhz((*band)[1]);
        if ((*band)[0] >= (*band)[1])
            r.problem("front_end_mhz", "has its ends the wrong way round", "[lower, upper]");
    }
    p.set_front_end_rejection_db(required("front_end_rejection_db", db_range));
    for (const auto& written : r.texts("shows", gear_max)) {
        const auto* shown = find_named(emissions, written);
        if (shown == nullptr)
            r.problem("shows", fmt::format("'{}' is no emission", printable(written)), "",
                      r.suggestion(written, names_of(emissions)));
        else
            p.add_shows(shown->name());
    }
    read_provenance(r,
                    {"selectivity_db", "noise_figure_db", "cascade", "iip3_dbm", "p1db_dbm",
                     "strongest_wanted_dbm", "watchable_db", "sharp_db", "front_end_mhz",
                     "front_end_rejection_db"},
                    sourced, p);
    return p;
}

v1::Antenna read_antenna(Reader& r, Sourced sourced) {
    constexpr Range width{1, 360, "degrees"};
    v1::Antenna a;
    a.set_title(r.text("title").value_or(""));
    const spectrum::Decibel gain(
        r.number("gain_dbi", {-30, 40, "dBi"}, Need::required).value_or(0));
    a.set_gain_dbi(gain.count());
    const auto horizontal = r.number("horizontal_width_deg", width);
    if (horizontal) a.set_horizontal_width_deg(*horizontal);
    const auto vertical = r.number("vertical_width_deg", width);
    a.set_vertical_width_deg(std::clamp(
        vertical.value_or(
            horizontal
                ? spectrum::sectoral_vertical_width(gain, spectrum::Degrees(*horizontal)).count()
                : spectrum::omnidirectional_vertical_width(gain).count()),
        width.low, width.high));
    a.set_floor_db(r.number("floor_db", {0, 60, "dB"}, Need::required).value_or(0));
    const auto kind = r.word("polarisation", {"circular", "linear"}, Need::required);
    a.set_circular(kind == "circular");
    const auto ratio =
        r.number("axial_ratio_db", {0, 40, "dB"}, a.circular() ? Need::required : Need::optional);
    if (ratio && !a.circular())
        r.problem("axial_ratio_db", "belongs to circular antennas", "none for a linear one");
    a.set_axial_ratio_db(ratio.value_or(0));
    read_provenance(r,
                    {"gain_dbi", "horizontal_width_deg", "vertical_width_deg", "floor_db",
                     "polarisation", "axial_ratio_db"},
                    sourced, a);
    if (!vertical) {
        auto* p = a.add_provenance();
        p->set_key("vertical_width_deg");
        p->set_kind(v1::Provenance::published);
        p->set_source("ITU-R F.1336, width from the gain");
    }
    return a;
}

v1::ControlLink read_control_link(Reader& r, Sourced sourced) {
    v1::ControlLink c;
    c.set_title(r.text("title").value_or(""));
    read_band(r, "band_mhz", c);
    c.set_bandwidth_mhz(r.number("bandwidth_mhz", {0.001, 100, "MHz"}, Need::required).value_or(1));
    c.set_noise_figure_db(r.number("noise_figure_db", {0, 40, "dB"}, Need::required).value_or(0));
    c.set_required_db(r.number("required_db", {-40, 40, "dB"}, Need::required).value_or(0));
    c.set_hopping(r.boolean("hopping", Need::required).value_or(true));
    read_provenance(r, {"band_mhz", "bandwidth_mhz", "noise_figure_db", "required_db", "hopping"},
                    sourced, c);
    return c;
}

v1::PositioningReceiver read_positioning_receiver(Reader& r, Sourced sourced) {
    v1::PositioningReceiver p;
    p.set_title(r.text("title").value_or(""));
    for (const auto& [low, high] : r.pairs("bands_mhz", mhz_range, mhz_range, 8, Need::required)) {
        auto* band = p.add_bands();
        band->set_low_mhz(low);
        band->set_high_mhz(high);
        if (low >= high)
            r.problem("bands_mhz", "has a band with its ends the wrong way round",
                      "[[lower, upper], ...]");
    }
    p.set_noise_figure_db(r.number("noise_figure_db", {0, 40, "dB"}, Need::required).value_or(0));
    read_provenance(r, {"bands_mhz", "noise_figure_db"}, sourced, p);
    return p;
}

/// Puts a definition in the place of the one with its name, or at the end.
template <class Message>
void replace(google::protobuf::RepeatedPtrField<Message>& list, Message definition) {
    for (auto& existing : list) {
        if (name_key(existing.name()) != name_key(definition.name())) continue;
        existing = std::move(definition);
        return;
    }
    list.Add(std::move(definition));
}

template <class Message, class Read>
void read_kind(Reader& file, std::string_view key, Sourced sourced, Read read,
               google::protobuf::RepeatedPtrField<Message>& into) {
    std::set<std::string> seen;
    file.named_tables(key, gear_max, [&](Reader& r, const std::string& name) {
        if (!seen.insert(name_key(name)).second)
            r.problem("", fmt::format("'{}' is defined twice", printable(name)),
                      "names that differ by more than case");
        std::string why;
        const auto proper = proper_name(name, why);
        if (!proper) r.problem("", fmt::format("the name '{}' {}", printable(name), why));
        Message message = read(r, sourced);
        message.set_name(proper.value_or(name));
        replace(into, std::move(message));
    });
}

v1::Allowance read_allowance(Reader& r) {
    v1::Allowance a;
    read_band(r, "band_mhz", a);
    if (const auto eirp = r.number("eirp_mw", {1e-6, 1e6, "mW"}))
        a.set_eirp_dbm_max(spectrum::dbm(*eirp).count());
    if (const auto field = r.number("field_mv_per_m", {1e-3, 1e6, "mV/m"}))
        a.set_eirp_dbm_max(
            spectrum::eirp_of_field_strength(
                *field / 1000,
                spectrum::Metres(r.number("at_m", {0.1, 1e3, "m"}, Need::required).value_or(3)))
                .count());
    a.set_note(r.text("note").value_or(""));
    return a;
}

void read_embedded(const std::string& name, v1::Library& library) {
    Problems problems;
    if (auto table = parse_toml(embedded_file(name), name, problems)) {
        take_kits(*table, name, *library.mutable_kits(), problems);
        Reader reader(*table, name, "", problems);
        read_gear(reader, Sourced::must, library);
        read_rows(reader, library);
        read_rules(reader, library);
        reader.finish();
    }
    if (!problems.empty()) throw std::logic_error(to_string(problems.front()));
}

}  // namespace

void read_gear(Reader& file, Sourced sourced, v1::Library& into) {
    read_kind(file, "emission", sourced, read_emission, *into.mutable_emissions());
    const auto receiver = [&](Reader& r, Sourced must) {
        return read_receiver(r, must, into.emissions());
    };
    read_kind(file, "receiver", sourced, receiver, *into.mutable_receivers());
    read_kind(file, "antenna", sourced, read_antenna, *into.mutable_antennas());
    read_kind(file, "control_link", sourced, read_control_link, *into.mutable_control_links());
    read_kind(file, "positioning_receiver", sourced, read_positioning_receiver,
              *into.mutable_positioning_receivers());
}

void read_rows(Reader& file, v1::Library& into) {
    file.tables("row", 64, [&](Reader& r, std::size_t) {
        auto* row = into.add_rows();
        row->set_name(r.text("letter").value_or(""));
        row->set_title(r.text("title", Need::required).value_or(""));
        int number = 0;
        for (const double mhz :
             r.one_or_more("channels_mhz", {channel_mhz_min, channel_mhz_max, "MHz"}, 64)) {
            auto* channel = row->add_channels();
            *channel = ChannelNames::by_mhz(mhz);
            if (!row->name().empty()) channel->set_name(row->name() + std::to_string(++number));
        }
        add_provenance("provenance", r.texts("provenance", 2), r, *row);
    });
}

void read_rules(Reader& file, v1::Library& into) {
    file.named_tables("rules", gear_max, [&](Reader& r, const std::string& name) {
        v1::RuleSet rules;
        rules.set_name(name);
        rules.set_title(r.text("title", Need::required).value_or(""));
        rules.set_source(r.text("source", Need::required).value_or(""));
        rules.set_edition(r.text("edition", Need::required).value_or(""));
        rules.set_date(r.text("date", Need::required).value_or(""));
        rules.set_note(r.text("note").value_or(""));
        r.tables("allow", 64, [&](Reader& allowance, std::size_t) {
            *rules.add_allowances() = read_allowance(allowance);
        });
        replace(*into.mutable_rule_sets(), std::move(rules));
    });
    file.tables("service", 64, [&](Reader& r, std::size_t) {
        auto* service = into.add_services();
        service->set_name(r.text("name", Need::required).value_or(""));
        read_band(r, "band_mhz", *service);
        service->set_note(r.text("note").value_or(""));
        service->set_source(r.text("source", Need::required).value_or(""));
    });
}

const v1::Library& library() {
    static const v1::Library whole = [] {
        v1::Library library;
        for (const auto* file : {"emissions.toml", "receivers.toml", "antennas.toml",
                                 "onboard.toml", "rows.toml", "rules.toml", "kits.toml"})
            read_embedded(file, library);
        return library;
    }();
    return whole;
}

}  // namespace fieldpeg::book
