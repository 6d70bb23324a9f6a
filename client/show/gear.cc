#include "client/show/replies.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <map>

namespace fieldpeg::show {
namespace {

template <class Field>
std::string knots(const Field& field) {
    std::string text;
    for (const auto& knot : field)
        text +=
            fmt::format("{}{:g}:{:g}", text.empty() ? "" : " ", knot.offset_mhz(), knot.level_db());
    return text;
}

/// Values of one definition beside where they come from.
template <class Message>
std::string definition(const char* kind, const Message& m,
                       const std::vector<std::pair<std::string, std::string>>& values,
                       const Look& look) {
    std::map<std::string, const v1::Provenance*> provenance;
    for (const auto& p : m.provenance())
        provenance[p.key() == "cascade" ? "noise_figure_db" : p.key()] = &p;
    std::string all = heading(fmt::format("{} {}", kind, m.name()), look);
    if (!m.title().empty()) all += "  " + m.title() + "\n";
    for (const auto& [key, value] : values) {
        all += item(fmt::format("  {:<24}", key), value, look);
        if (const auto found = provenance.find(key); found != provenance.end())
            all += item(fmt::format("  {:<24}  ", ""),
                        fmt::format("{}: {}", v1::Provenance::Kind_Name(found->second->kind()),
                                    found->second->source()),
                        look);
    }
    return all;
}

std::string number(double value) {
    return fmt::format("{:g}", value);
}

std::string optional_number(bool has, double value) {
    return has ? number(value) : "-";
}

std::string emission(const v1::Emission& e, const Look& look) {
    return definition(
        "emission", e,
        {{"density_db", knots(e.density()) + " (MHz:dB)"},
         {"sigma_mhz", number(e.sigma_mhz())},
         {"constant_envelope", e.constant_envelope() ? "true" : "false"},
         {"necessary bandwidth", fmt::format("{:g} MHz, {}", e.necessary_mhz(), e.designator())},
         {"modulating_mhz", optional_number(e.has_modulating_mhz(), e.modulating_mhz())},
         {"deviation_mhz", optional_number(e.has_deviation_mhz(), e.deviation_mhz())},
         {"occupied bandwidth",
          fmt::format("{:.1f} MHz, 99 % of the density's power", e.occupied_mhz())}},
        look);
}

std::string receiver(const v1::ReceiverProfile& r, const Look& look) {
    return definition(
        "receiver", r,
        {{"selectivity_db", knots(r.selectivity()) + " (MHz:dB)"},
         {"noise bandwidth",
          fmt::format("{:.2f} MHz, from the selectivity", r.noise_bandwidth_mhz())},
         {"noise_figure_db", number(r.noise_figure_db())},
         {"iip3_dbm", number(r.iip3_dbm())},
         {"p1db_dbm", number(r.p1db_dbm())},
         {"strongest_wanted_dbm", number(r.strongest_wanted_dbm())},
         {"watchable_db", number(r.watchable_db())},
         {"sharp_db", number(r.sharp_db())},
         {"front_end_mhz",
          fmt::format("{:g} to {:g}", r.front_end_low_mhz(), r.front_end_high_mhz())},
         {"front_end_rejection_db", number(r.front_end_rejection_db())},
         {"shows", r.shows().empty() ? "anything" : fmt::format("{}", fmt::join(r.shows(), ", "))}},
        look);
}

std::string antenna(const v1::Antenna& a, const Look& look) {
    std::vector<std::pair<std::string, std::string>> values = {{"gain_dbi", number(a.gain_dbi())}};
    if (a.has_horizontal_width_deg())
        values.emplace_back("horizontal_width_deg", number(a.horizontal_width_deg()));
    values.emplace_back("vertical_width_deg", fmt::format("{:.1f}", a.vertical_width_deg()));
    values.emplace_back("floor_db", number(a.floor_db()));
    values.emplace_back("polarisation", a.circular() ? "circular" : "linear");
    if (a.circular()) values.emplace_back("axial_ratio_db", number(a.axial_ratio_db()));
    return definition("antenna", a, values, look);
}

std::string control_link(const v1::ControlLink& c, const Look& look) {
    return definition("control link", c,
                      {{"band_mhz", fmt::format("{:g} to {:g}", c.low_mhz(), c.high_mhz())},
                       {"bandwidth_mhz", number(c.bandwidth_mhz())},
                       {"noise_figure_db", number(c.noise_figure_db())},
                       {"required_db", number(c.required_db())},
                       {"hopping", c.hopping() ? "true" : "false"}},
                      look);
}

std::string bands_text(const v1::PositioningReceiver& p) {
    std::string bands;
    for (const auto& band : p.bands())
        bands += fmt::format("{}{:g}-{:g} MHz", bands.empty() ? "" : ", ", band.low_mhz(),
                             band.high_mhz());
    return bands;
}

std::string positioning(const v1::PositioningReceiver& p, const Look& look) {
    return definition(
        "positioning receiver", p,
        {{"bands_mhz", bands_text(p)}, {"noise_figure_db", number(p.noise_figure_db())}}, look);
}

std::string rule_set(const v1::RuleSet& r, const Look& look) {
    std::string all = heading("rule set " + r.name(), look) + "  " + r.title() + "\n";
    all += item("  source   ", r.source(), look);
    all += item("  edition  ", fmt::format("{}, {}", r.edition(), r.date()), look);
    if (!r.note().empty()) all += item("  note     ", r.note(), look);
    for (const auto& a : r.allowances())
        all +=
            item("  ",
                 fmt::format("{:g} to {:g} MHz{}{}", a.low_mhz(), a.high_mhz(),
                             a.has_eirp_dbm_max()
                                 ? fmt::format(", {} e.i.r.p.", day::power_text(a.eirp_dbm_max()))
                                 : "",
                             a.note().empty() ? "" : "; " + a.note()),
                 look);
    return all + item("  ",
                      "Advice with its source and date; what applies to you is for the "
                      "national authority to say.",
                      look);
}

}  // namespace

std::string gear_list_text(const v1::Library& library, const Look& look) {
    std::string all;
    const auto list = [&](std::string_view title, const auto& definitions, auto value) {
        Table table({{"  name"}, {"in short"}, {"what"}});
        for (const auto& one : definitions) table.row({"  " + one.name(), value(one), one.title()});
        all += heading(title, look) + table.text(look) + "\n";
    };
    list("Emissions", library.emissions(), [](const v1::Emission& e) {
        return fmt::format("{}, {:.1f} MHz occupied", e.designator(), e.occupied_mhz());
    });
    list("Receivers", library.receivers(), [](const v1::ReceiverProfile& r) {
        return fmt::format("{:.0f} MHz, noise figure {:g} dB", r.noise_bandwidth_mhz(),
                           r.noise_figure_db());
    });
    list("Antennas", library.antennas(), [](const v1::Antenna& a) {
        return fmt::format("{:g} dBi{}, {}", a.gain_dbi(),
                           a.has_horizontal_width_deg()
                               ? fmt::format(", {:g} deg wide", a.horizontal_width_deg())
                               : "",
                           a.circular() ? "circular" : "linear");
    });
    list("Control links", library.control_links(), [](const v1::ControlLink& c) {
        return fmt::format("{:g}-{:g} MHz", c.low_mhz(), c.high_mhz());
    });
    list("Positioning receivers", library.positioning_receivers(),
         [](const v1::PositioningReceiver& p) { return bands_text(p); });
    list("Rule sets", library.rule_sets(), [](const v1::RuleSet& r) { return r.date(); });
    all += "'fieldpeg gear NAME' shows every value and where it comes from.\n";
    return all;
}

std::string kits_text(const v1::Library& library, const Look& look) {
    if (library.kits_size() == 1) {
        const auto& kit = library.kits(0);
        auto all = heading("kit " + kit.name(), look) + "  " + kit.title() + "\n";
        if (!kit.look().empty()) all += item("  look  ", kit.look(), look);
        return all + "\n" + kit.toml() + "\n";
    }
    Table table({{"name"}, {"what"}, {"told by"}});
    for (const auto& kit : library.kits()) table.row({kit.name(), kit.title(), kit.look()});
    return table.text(look) +
           "\n'fieldpeg kits NAME' shows what it brings. What a kit cannot know is reckoned with "
           "its range: 'check' says whether a verdict rests on it.\n";
}

std::string gear_text(const v1::Library& found, const Look& look) {
    std::string all;
    for (const auto& e : found.emissions()) all += emission(e, look);
    for (const auto& r : found.receivers()) all += receiver(r, look);
    for (const auto& a : found.antennas()) all += antenna(a, look);
    for (const auto& c : found.control_links()) all += control_link(c, look);
    for (const auto& p : found.positioning_receivers()) all += positioning(p, look);
    for (const auto& r : found.rule_sets()) all += rule_set(r, look);
    if (found.kits_size() == 1) all += kits_text(found, look);
    return all;
}

}  // namespace fieldpeg::show
