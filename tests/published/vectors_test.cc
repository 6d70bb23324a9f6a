// Check values computed by an independent implementation of the radio model's text, apart from
// this code: tests/published/data/vectors.csv, each row with its own tolerance and how it was
// obtained. Budgets and margins refer to the two scenes beside it. The scenes are invented.

#include "server/spectrum/blocking.h"
#include "server/spectrum/geometry.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/link.h"
#include "server/spectrum/margin.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"
#include "server/spectrum/relay_window.h"
#include "tests/support/gear.h"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include <fstream>
#include <map>
#include <sstream>
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
    std::map<std::string, std::size_t> transmitters, receivers;
    json file;
};

Named load(const std::string& name) {
    Named n;
    n.file = json::parse(std::ifstream(folder + name + ".json"));
    std::map<std::string, std::size_t> emissions, profiles;
    for (const auto& t : n.file["transmitters"]) {
        const auto emission = t["emission"].get<std::string>();
        if (emissions.try_emplace(emission, n.scene.emissions.size()).second)
            n.scene.emissions.push_back(testing::emission(emission));
        Station at;
        if (t.contains("env"))
            at = Envelope{t["env"]["cx"], t["env"]["cy"], t["env"]["r"], t["env"]["zlo"],
                          t["env"]["zhi"]};
        else
            at = point(t["pos"]);
        n.transmitters[t["id"]] = n.scene.transmitters.size();
        n.scene.transmitters.push_back(
            {emissions[emission], from_mhz(t["f"]), Dbm(t["p"].get<double>()),
             Antenna{testing::antenna(t["antenna"].get<std::string>()), hand(t), {}, {}},
             Decibel(t["loss"].get<double>()), at});
    }
    for (const auto& r : n.file["receivers"]) {
        const auto profile = r["profile"].get<std::string>();
        if (profiles.try_emplace(profile, n.scene.profiles.size()).second)
            n.scene.profiles.push_back(testing::receiver(profile));
        n.receivers[r["id"]] = n.scene.receivers.size();
        n.scene.receivers.push_back(
            {profiles[profile], n.transmitters.at(r["wanted"]),
             Antenna{testing::antenna(r["antenna"].get<std::string>()), hand(r), {}, {}},
             Decibel(r["loss"].get<double>()), point(r["pos"])});
    }
    return n;
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
        return polarisation_loss(letter(in["pol1"]), Decibel(number("ar1_dB")), letter(in["pol2"]),
                                 Decibel(number("ar2_dB")),
                                 in["role"] == "wanted" ? Role::wanted : Role::unwanted)
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
        return desensitisation(Dbm(number("total_blocker_dBm")), Dbm(number("iip3_dBm"))).count();
    if (row.quantity == "quantile_distance")
        return quantile_distance_m(number("rho_m"), number("radius_m"), number("q"));
    ADD_FAILURE() << "vectors.csv:" << row.line << ": unknown quantity " << row.quantity;
    return 0;
}

double of_scene(const Row& row, const Named& n) {
    const json& in = row.inputs;
    const auto geometry = in.value("geometry", "ref") == "ref" ? Geometry::ref : Geometry::worst;
    const auto transmitter = [&](const char* key) {
        return n.scene.transmitters[n.transmitters.at(in[key].get<std::string>())];
    };
    if (row.quantity == "tx_coupling")
        return coupling(transmitter("from"), transmitter("into")).count();
    if (row.quantity == "link_gain") {
        const auto& receiver = n.scene.receivers[n.receivers.at(in["receiver"])];
        return (in["role"] == "wanted"
                    ? wanted_gain(transmitter("transmitter"), receiver)
                    : unwanted_gain(transmitter("transmitter"), receiver, geometry))
            .count();
    }
    if (row.quantity == "relay_p_min" || row.quantity == "relay_p_max") {
        const auto window =
            relay_window(n.scene, n.transmitters.at(n.file["relay"]["transmitter"]), geometry);
        if (row.quantity == "relay_p_min") return window.floor.value().count();
        EXPECT_EQ(window.limited_by.value().receiver.value(),
                  n.receivers.at(in["limited_by"].get<std::string>()));
        EXPECT_EQ(window.limited_by->kind, PowerLimit::Kind::adjacent);
        return window.ceiling.value().count();
    }
    const auto v = n.receivers.at(in["receiver"].get<std::string>());
    const auto budget = (*assess(n.scene)[v])[static_cast<std::size_t>(geometry)];
    if (row.quantity == "margin")
        return margins(budget, n.scene.profiles[n.scene.receivers[v].profile], Demand::watchable)
            .least.count();
    if (row.quantity == "wanted_power") return budget.wanted.count();
    if (row.quantity == "total_blocker_power") return budget.blockers.value().count();
    if (row.quantity == "interference_power") return dbm(budget.interference_mw()).count();
    ADD_FAILURE() << "vectors.csv:" << row.line << ": unknown quantity " << row.quantity;
    return 0;
}

/// "aci:jonas.tx=-113.41"
void check_dominant_term(const Row& row, const Named& n) {
    constexpr double tolerance_db = 0.05;  // as the file's header says
    RejectionTables tables(n.scene);
    const auto v = n.receivers.at(row.inputs["receiver"].get<std::string>());
    const auto terms = contributions(n.scene, LinkTable(n.scene), tables, v, Geometry::ref, 3);
    const auto colon = row.expected.find(':');
    const auto equals = row.expected.find('=');
    ASSERT_FALSE(terms.empty());
    EXPECT_EQ(row.expected.substr(0, colon), "aci");
    EXPECT_EQ(terms.front().kind, Contribution::Kind::adjacent);
    EXPECT_EQ(terms.front().from,
              std::vector{n.transmitters.at(row.expected.substr(colon + 1, equals - colon - 1))});
    EXPECT_NEAR(terms.front().level.count(), std::stod(row.expected.substr(equals + 1)),
                tolerance_db);
}

TEST(Vectors, EveryRowIsReproduced) {
    const std::map<std::string, Named> scenes = {{"two_pilots", load("two_pilots")},
                                                 {"relay_crowded", load("relay_crowded")}};
    const auto all = rows();
    ASSERT_EQ(all.size(), 116u);
    for (const auto& row : all) {
        SCOPED_TRACE("vectors.csv:" + std::to_string(row.line) + " " + row.id);
        const auto* scene = row.inputs.contains("scenario")
                                ? &scenes.at(row.inputs["scenario"].get<std::string>())
                                : nullptr;
        if (row.quantity == "dominant_term")
            check_dominant_term(row, *scene);
        else
            EXPECT_NEAR(scene ? of_scene(row, *scene) : closed_form(row), std::stod(row.expected),
                        row.tolerance);
    }
}

}  // namespace
}  // namespace fieldpeg::spectrum
