// Check values computed by an independent implementation of the radio model's text, apart from
// this code: tests/published/data/vectors.csv, each row with its own tolerance and how it was
// obtained. The rest refer to the scenes beside it. The scenes are invented.

#include "server/spectrum/blocking.h"
#include "server/spectrum/contributions.h"
#include "server/spectrum/control.h"
#include "server/spectrum/flight.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/guesses.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"
#include "server/spectrum/relay_window.h"
#include "server/spectrum/standing.h"
#include "server/spectrum/verdict.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <fstream>
#include <map>
#include <optional>
#include <set>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

namespace fieldpeg::spectrum {
namespace {

using nlohmann::json;

const std::string folder = FIELDPEG_SOURCE_DIR "/tests/published/data/";

struct Row {
    int line;
    std::string id, quantity;
    json inputs;
    std::string expected;
    double tolerance;
};

/// The fields of one line; a quoted one may hold commas, and doubled quotes for quotes.
std::vector<std::string> fields(const std::string& line) {
    std::vector<std::string> list(1);
    bool quoted = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        if (line[i] == '"' && quoted && i + 1 < line.size() && line[i + 1] == '"')
            list.back() += line[++i];
        else if (line[i] == '"')
            quoted = !quoted;
        else if (line[i] == ',' && !quoted)
            list.emplace_back();
        else if (line[i] != '\r')
            list.back() += line[i];
    }
    return list;
}

std::vector<Row> rows() {
    std::ifstream in(folder + "vectors.csv");
    std::vector<Row> list;
    std::string line;
    std::getline(in, line);
    for (int number = 2; std::getline(in, line); ++number) {
        const auto f = fields(line);
        list.push_back({number, f[0], f[1], json::parse(f[2]), f[3], std::stod(f[5])});
    }
    return list;
}

Polarisation hand(const json& at) {
    const std::string p = at.value("pol", "V");
    if (p == "R") return Polarisation::rhcp;
    if (p == "L") return Polarisation::lhcp;
    return p == "H" ? Polarisation::horizontal : Polarisation::vertical;
}

Point point(const json& at) {
    return {at[0].get<double>(), at[1].get<double>(), at[2].get<double>()};
}

/// A scene file, and where its transmitters and receivers went.
struct Named {
    Scene scene;
    std::map<std::string, std::size_t> transmitters, receivers, owners, controls;
    json file;
};

/// Whose something is: what stands before the point.
std::string owner_of(const std::string& id) {
    return id.substr(0, id.find('.'));
}

Antenna antenna_of(const json& at) {
    return {testing::antenna(at["antenna"].get<std::string>()), hand(at),
            Degrees(at.value("az0", 0.0)), Degrees(at.value("el0", 0.0)),
            at.value("facing", "") == "aircraft"};
}

Station station(const json& at) {
    if (!at.contains("env")) return point(at["pos"]);
    const auto& e = at["env"];
    return Envelope{e["cx"], e["cy"], e["r"], e["zlo"], e["zhi"], e.value("standoff", 30.0)};
}

/// Analogue receivers show analogue video, a digital one its own kind.
bool can_show(const std::string& profile, const std::string& emission) {
    if (profile.starts_with("fm-video")) return emission.starts_with("fm-video");
    return profile.starts_with(emission);
}

std::size_t number(std::map<std::string, std::size_t>& known, const std::string& name) {
    return known.try_emplace(name, known.size()).first->second;
}

Control control(const Named& n, const json& r, std::size_t profile) {
    const auto id = r["id"].get<std::string>();
    Control made{n.transmitters.at(r["wanted"]),
                 profile,
                 antenna_of(r),
                 Decibel(r["loss"].get<double>()),
                 std::get<Envelope>(station(r)),
                 {from_mhz(r["hop"][0]), from_mhz(r["hop"][1])},
                 from_mhz(r.value("step", 1.0)),
                 {}};
    if (const auto video = n.transmitters.find(owner_of(id) + ".tx"); video != n.transmitters.end())
        made.aboard.push_back(video->second);
    return made;
}

Named of(const json& file) {
    Named n;
    n.file = file;
    std::map<std::string, std::size_t> emissions, profiles;
    for (const auto& t : file["transmitters"]) {
        const auto name = t["emission"].get<std::string>();
        const bool hops = t.contains("hop");
        const auto emission = number(emissions, name);
        if (emission == n.scene.emissions.size())
            n.scene.emissions.push_back(testing::emission(name));
        n.transmitters[t["id"]] = n.scene.transmitters.size();
        Transmitter made{emission,
                         from_mhz(t["f"]),
                         Dbm(t["p"].get<double>()),
                         antenna_of(t),
                         Decibel(t["loss"].get<double>()),
                         station(t)};
        made.duty = t.value("duty", 1.0);
        if (hops) made.hops = HopBand{from_mhz(t["hop"][0]), from_mhz(t["hop"][1])};
        made.harmonic_filter = Decibel(t.value("harmonic_filter_db", 0.0));
        if (t.contains("spares")) made.spares = number(n.owners, t["spares"][0].get<std::string>());
        n.scene.transmitters.push_back(made);
    }
    for (const auto& r : file["receivers"]) {
        const auto name = r["profile"].get<std::string>();
        const auto profile = number(profiles, name);
        if (profile == n.scene.profiles.size()) n.scene.profiles.push_back(testing::receiver(name));
        if (name == "control-2g4") {
            n.controls[r["id"]] = n.scene.controls.size();
            n.scene.controls.push_back(control(n, r, profile));
            continue;
        }
        const auto owner = owner_of(r["id"]);
        const auto wanted = r["wanted"].get<std::string>();
        Receiver made{profile,         n.transmitters.at(wanted),
                      antenna_of(r),   Decibel(r["loss"].get<double>()),
                      point(r["pos"]), number(n.owners, owner)};
        made.body = Decibel(r.value("body_db", 0.0));
        const auto relay = n.transmitters.find(owner + ".relay");
        if (wanted != owner + ".relay" && relay != n.transmitters.end() &&
            !r.value("direct", false))
            made.feeds = relay->second;
        for (const auto& t : file["transmitters"])
            if (t["id"] == wanted && !can_show(name, t["emission"])) made.hears.reset();
        n.receivers[r["id"]] = n.scene.receivers.size();
        n.scene.receivers.push_back(made);
    }
    return n;
}

json read(const std::string& name) {
    return json::parse(std::ifstream(folder + name + ".json"));
}

Polarisation letter(const std::string& p) {
    return hand(json{{"pol", p}});
}

double closed_form(const Row& row) {
    const json& in = row.inputs;
    const auto number = [&](const char* key) { return in[key].get<double>(); };
    if (row.quantity == "path_loss")
        return path_loss(band_reference(from_mhz(number("f_MHz"))), Metres(number("d_m")),
                         Metres(number("h1_m")), Metres(number("h2_m")))
            .count();
    if (row.quantity == "pol_loss")
        return (in["role"] == "air"
                    ? flying_polarisation_loss(letter(in["pol1"]), Decibel(number("ar1_dB")),
                                               letter(in["pol2"]), Decibel(number("ar2_dB")))
                    : fixed_polarisation_loss(
                          letter(in["pol1"]), Decibel(number("ar1_dB")), letter(in["pol2"]),
                          Decibel(number("ar2_dB")),
                          in["role"] == "wanted" ? Role::wanted : Role::unwanted))
            .count();
    if (row.quantity == "antenna_gain")
        return gain(Antenna{testing::antenna(in["antenna"].get<std::string>()),
                            Polarisation::vertical, Degrees(number("az0_deg")),
                            Degrees(number("el0_deg"))},
                    Ray(point(in["from"]), point(in["to"])))
            .count();
    if (row.quantity == "noise_power") {
        const auto r = testing::receiver(in["receiver"].get<std::string>());
        return noise_power(noise_bandwidth(r.selectivity), r.noise_figure).count();
    }
    if (row.quantity == "noise_bandwidth")
        return mhz(
            noise_bandwidth(testing::receiver(in["receiver"].get<std::string>()).selectivity));
    if (row.quantity == "fdr")
        return frequency_dependent_rejection(
                   testing::emission(in["emission"].get<std::string>()).density,
                   testing::receiver(in["receiver"].get<std::string>()).selectivity,
                   from_mhz(number("df_MHz")))
            .count();
    if (row.quantity == "fdr_product") {
        const auto e = testing::emission(in["all_emissions"].get<std::string>());
        const ProductShape s{e.sigma_mhz, e.constant_envelope};
        const double sigma =
            in["product"] == "2A-B" ? two_signal_sigma_mhz(s, s) : three_signal_sigma_mhz(s, s, s);
        return product_rejection(sigma,
                                 testing::receiver(in["receiver"].get<std::string>()).selectivity,
                                 from_mhz(number("df_MHz")))
            .count();
    }
    if (row.quantity == "im_level_2A-B")
        return two_signal_product(Dbm(number("PA_dBm")), Dbm(number("PB_dBm")),
                                  Dbm(number("iip3_dBm")), in["A"] == "fm")
            .count();
    if (row.quantity == "im_level_A+B-C")
        return three_signal_product(Dbm(number("PA_dBm")), Dbm(number("PB_dBm")),
                                    Dbm(number("PC_dBm")), Dbm(number("iip3_dBm")))
            .count();
    if (row.quantity == "desense")
        return desensitisation(Dbm(number("total_blocker_dBm")), Dbm(number("p1db_dBm"))).count();
    if (row.quantity == "grid_point") {
        const auto at = places(
            std::get<Envelope>(station({{"env", in["area"]}})))[in["index"].get<std::size_t>()];
        return in["axis"] == "x" ? at.x_m : in["axis"] == "y" ? at.y_m : at.z_m;
    }
    if (row.quantity == "level_exceeded" || row.quantity == "share") {
        const FlightGain levels(in["levels_dBm"].get<std::vector<double>>(),
                                Decibel(number("sigma_dB")));
        return row.quantity == "share" ? levels.share_above(Decibel(number("threshold_dBm")))
                                       : levels.exceeded(number("share")).count();
    }
    ADD_FAILURE() << "vectors.csv:" << row.line << ": unknown quantity " << row.quantity;
    return 0;
}

/// A scene assessed. Refers to it.
struct Assessed {
    explicit Assessed(const Named& of)
        : n(of), links(of.scene), tables(of.scene), receptions(assess(of.scene, links, tables)) {}

    const Viewer& viewer(const std::string& pilot) const {
        for (const auto& one : all)
            if (one.owner == n.owners.at(pilot)) return one;
        throw std::logic_error("sees nothing: " + pilot);
    }

    const Named& n;
    LinkTable links;
    mutable RejectionTables tables;
    Receptions receptions;
    std::vector<Viewer> all = viewers(n.scene);
};

const char* word(Verdict verdict) {
    constexpr const char* words[] = {"steady", "tight",   "patchy", "too_close",
                                     "shaky",  "too_far", "clash",  "no_picture"};
    return words[static_cast<std::size_t>(verdict)];
}

/// range|interference|verdict|picture
std::string words(const Standing& s) {
    constexpr const char* ranges[] = {"good", "patchy", "too_close", "too_far"};
    constexpr const char* blames[] = {"none", "shaky", "clash"};
    constexpr const char* pictures[] = {"sharp", "watchable", "broken"};
    return std::string(ranges[static_cast<std::size_t>(range(s))]) + "|" +
           blames[static_cast<std::size_t>(interference(s))] + "|" + word(verdict(s)) + "|" +
           pictures[static_cast<std::size_t>(picture(s))];
}

Aim aim(const json& in, Air air) {
    return {in["level"] == "sharp" ? Demand::sharp : Demand::watchable,
            in.value("share", usable_share), air};
}

double of_pair(const Row& row, const Named& n) {
    const json& in = row.inputs;
    const auto transmitter = [&](const char* key) {
        return n.scene.transmitters[n.transmitters.at(in[key].get<std::string>())];
    };
    if (row.quantity == "tx_coupling")
        return coupling(transmitter("from"), transmitter("into")).count();
    const auto& receiver = n.scene.receivers[n.receivers.at(in["receiver"])];
    return unwanted_gain(transmitter("transmitter"), receiver,
                         in["geometry"] == "usual" ? Geometry::usual : Geometry::closest)
        .count();
}

double of_window(const Row& row, const Named& n) {
    const json& in = row.inputs;
    const auto window = relay_window(n.scene, n.transmitters.at(n.file["relay"]["transmitter"]),
                                     in["geometry"] == "ref" ? Geometry::usual : Geometry::closest);
    if (row.quantity == "relay_p_min") return window.floor.value().count();
    if (in["limited_by"].is_null()) {
        EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::range_end);
    } else {
        EXPECT_EQ(window.limited_by->receiver.value(),
                  n.receivers.at(in["limited_by"].get<std::string>()));
        EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::adjacent);
    }
    return window.ceiling.value().count();
}

double of_pilot(const Row& row, const Assessed& a) {
    const auto& viewer = a.viewer(row.inputs["pilot"]);
    if (row.quantity == "pilot_share")
        return share(a.receptions, viewer, aim(row.inputs, Air::usual).demand, Air::usual);
    return margin(a.receptions, viewer,
                  aim(row.inputs, row.quantity == "pilot_margin" ? Air::usual : Air::closest))
        .count();
}

double of_receiver(const Row& row, const Assessed& a) {
    const json& in = row.inputs;
    const auto& reception = a.receptions[a.n.receivers.at(in["receiver"])].value();
    const auto& usual = reception.budget(Geometry::usual);
    if (row.quantity == "margin") return margin(reception, aim(in, Air::usual)).count();
    if (row.quantity == "margin_closest") return margin(reception, aim(in, Air::closest)).count();
    if (row.quantity == "share") return share(reception, aim(in, Air::usual).demand, Air::usual);
    if (row.quantity == "share_alone")
        return share(reception, aim(in, Air::usual).demand, Air::alone);
    if (row.quantity == "wanted_power") return reception.wanted(in["share"]).count();
    if (row.quantity == "total_blocker_power") return usual.blockers.value().count();
    if (row.quantity == "interference_power") return dbm(usual.interference_mw()).count();
    ADD_FAILURE() << "vectors.csv:" << row.line << ": unknown quantity " << row.quantity;
    return 0;
}

/// "a+b+c"
std::vector<std::size_t> all_named(const Named& n, const std::string& names) {
    std::vector<std::size_t> all;
    std::istringstream in(names);
    for (std::string name; std::getline(in, name, '+');) all.push_back(n.transmitters.at(name));
    return all;
}

/// "aci:jonas.tx=-113.41", "rxim3:a+b+c=...", "burst:a=..."
void check_dominant_term(const Row& row, const Assessed& a) {
    constexpr double tolerance_db = 0.05;  // as the row says
    using Kind = Contribution::Kind;
    const std::map<std::string, std::vector<Kind>> kinds = {
        {"aci", {Kind::adjacent, Kind::co_channel}},
        {"burst", {Kind::burst}},
        {"harmonic", {Kind::harmonic}},
        {"rxim2", {Kind::receiver_product}},
        {"rxim3", {Kind::receiver_product}},
        {"txim", {Kind::transmitter_product}}};
    const auto terms = contributions(a.n.scene, a.links, a.tables,
                                     a.n.receivers.at(row.inputs["receiver"].get<std::string>()),
                                     Geometry::usual, 3);
    const auto colon = row.expected.find(':');
    const auto equals = row.expected.find('=');
    ASSERT_FALSE(terms.empty());
    const auto& allowed = kinds.at(row.expected.substr(0, colon));
    EXPECT_NE(std::ranges::find(allowed, terms.front().kind), allowed.end());
    EXPECT_EQ(terms.front().from,
              all_named(a.n, row.expected.substr(colon + 1, equals - colon - 1)));
    EXPECT_NEAR(terms.front().level.count(), std::stod(row.expected.substr(equals + 1)),
                tolerance_db);
}

void check_words(const Row& row, const Assessed& a) {
    if (row.quantity == "verdict") {
        EXPECT_FALSE(a.receptions[a.n.receivers.at(row.inputs["receiver"])]);
        EXPECT_EQ(row.expected, "no_picture");
        return;
    }
    const auto standing =
        row.quantity == "words"
            ? spectrum::standing(*a.receptions[a.n.receivers.at(row.inputs["receiver"])])
            : spectrum::standing(a.receptions, a.viewer(row.inputs["pilot"]));
    auto expected = row.expected;
    // Control comes before every picture; it is not part of a standing.
    if (const auto at = expected.find("control_at_risk"); at != std::string::npos)
        expected.replace(at, std::string("control_at_risk").size(), word(verdict(standing)));
    EXPECT_EQ(words(standing), expected);
}

/// low|high|what would settle it
std::string ends(const Outlook& at) {
    constexpr const char* guesses[] = {"own_power", "own_antenna",  "noise_figure",  "selectivity",
                                       "intercept", "others_power", "others_antenna"};
    return std::string(word(at.low)) + "|" + word(at.high) + "|" +
           (at.would_settle ? guesses[static_cast<std::size_t>(*at.would_settle)] : "nothing");
}

void check_outlook(const Row& row, const Assessed& a) {
    const auto all = doubts(a.n.scene, a.links, a.tables, a.receptions,
                            std::vector<Guesses>(a.receptions.size(), assumed_guesses));
    Outlook at;
    if (row.inputs.contains("pilot")) {
        const auto& viewer = a.viewer(row.inputs["pilot"]);
        at = outlook(standing(a.receptions, viewer), doubt(all, a.receptions, viewer));
    } else {
        const auto v = a.n.receivers.at(row.inputs["receiver"]);
        at = outlook(standing(*a.receptions[v]), *all[v]);
    }
    if (row.quantity.ends_with("ends"))
        EXPECT_EQ(ends(at), row.expected);
    else
        EXPECT_NEAR((row.quantity == "margin_high" ? at.margin_high : at.margin_low).count(),
                    std::stod(row.expected), row.tolerance);
}

void check_control(const Row& row, const Named& n) {
    constexpr const char* words[] = {"ok", "at_risk", "too_far"};
    RejectionTables tables(n.scene, control_grid(n.scene));
    const auto all = assess_controls(n.scene, ControlLinks(n.scene), tables);
    const auto& at = all[n.controls.at(row.inputs["receiver"])];
    if (row.quantity == "control_word")
        EXPECT_EQ(words[static_cast<std::size_t>(at.word)], row.expected);
    else
        EXPECT_NEAR(row.quantity == "control_lost" ? at.lost_share : at.wanted.count(),
                    std::stod(row.expected), row.tolerance);
}

void check(const Row& row, const Named& n) {
    const std::string& q = row.quantity;
    if (q.starts_with("control_")) {
        check_control(row, n);
        return;
    }
    if (q == "tx_coupling" || q == "link_gain") {
        EXPECT_NEAR(of_pair(row, n), std::stod(row.expected), row.tolerance);
        return;
    }
    if (q.starts_with("relay_p")) {
        EXPECT_NEAR(of_window(row, n), std::stod(row.expected), row.tolerance);
        return;
    }
    const Assessed a(n);
    if (q == "dominant_term")
        check_dominant_term(row, a);
    else if (q.ends_with("ends") || q.ends_with("margin_low") || q == "margin_high")
        check_outlook(row, a);
    else if (q.ends_with("words") || q == "verdict")
        check_words(row, a);
    else
        EXPECT_NEAR(q.starts_with("pilot_") ? of_pilot(row, a) : of_receiver(row, a),
                    std::stod(row.expected), row.tolerance);
}

TEST(Vectors, EveryRowIsReproduced) {
    const std::map<std::string, json> files = {{"two_pilots", read("two_pilots")},
                                               {"relay_crowded", read("relay_crowded")},
                                               {"club_mix", read("club_mix")}};
    const auto all = rows();
    ASSERT_EQ(all.size(), 275u);
    std::size_t checked = 0;
    for (const auto& row : all) {
        SCOPED_TRACE("vectors.csv:" + std::to_string(row.line) + " " + row.id);
        ++checked;
        if (!row.inputs.contains("scenario")) {
            EXPECT_NEAR(closed_form(row), std::stod(row.expected), row.tolerance);
            continue;
        }
        const auto& file = files.at(row.inputs["scenario"].get<std::string>());
        check(row,
              of(row.inputs.contains("case") ? file["cases"][row.inputs["case"].get<std::string>()]
                                             : file));
    }
    EXPECT_EQ(checked, 275u);
}

}  // namespace
}  // namespace fieldpeg::spectrum
