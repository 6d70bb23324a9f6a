#include "tests/support/days.h"

#include "server/book/day_file.h"

#include <fmt/format.h>

#include <stdexcept>

namespace fieldpeg::testing {

std::string_view whole_day() {
    return R"toml(# A whole day.
[day]
name  = "Harvest fly-in"
date  = 2026-09-19
rules = "club"

[field]
name   = "Long Meadow"
origin = [52.0, -1.0]

[[field.place]]
name     = "line-1"
at_m     = [0, 0]
height_m = 1.7
[[field.place]]
name     = "line-2"
at_m     = [3, 0]
height_m = 1.7
[[field.place]]
name     = "tripod"
at_m     = [-22, -8]
height_m = 2.5
[[field.place]]
name     = "pits"
at_m     = [0, -30]
height_m = 1

[[field.area]]
name     = "circuit"
centre_m = [0, 80]
radius_m = 50
height_m = [3, 40]
[[field.area]]
name     = "valley"
centre_m = [-400, 1800]
radius_m = 900
height_m = [60, 150]

[[pilot]]
name                 = "Ann"
place                = "line-1"
area                 = "circuit"
bench_place          = "pits"
control_link         = "hopping-2g4"
positioning_receiver = "satellite-l1"
[pilot.video]
emission       = "fm-video"
antenna        = "circular-omni"
polarisation   = "rhcp"
loss_db        = 0.7
power_mw       = [200, 25]
bench_power_mw = 0.1
channels       = ["R1-R8", "F2", 5790]
[[pilot.receiver]]
receiver     = "fm-video-5g8"
antenna      = "circular-patch"
polarisation = "rhcp"
loss_db      = 0.5
facing_deg   = 10
tilt_deg     = 5
channels     = ["R1-R8", "F1-F8", 5790]
[[pilot.receiver]]
name         = "second"
receiver     = "my-receiver"
antenna      = "circular-patch"
polarisation = "rhcp"
facing       = "aircraft"
place        = "line-2"
hears        = "video"
[pilot.claim]
channel  = "R3"
power_mw = 25
on_air   = true

[[pilot]]
name  = "Dee"
place = "line-2"
area  = "valley"
[pilot.video]
emission     = "my-video"
antenna      = "my-whip"
polarisation = "vertical"
power_dbm    = 29
channels     = [1280, 1320]
[[pilot.receiver]]
receiver     = "fm-video-5g8"
antenna      = "circular-omni"
polarisation = "lhcp"
[pilot.claim]
channel   = 1280
power_dbm = 29

[[relay]]
name         = "Dee's tripod"
owner        = "Dee"
place        = "tripod"
emission     = "fm-video"
antenna      = "circular-omni"
polarisation = "lhcp"
power_mw     = [25, 200]
channels     = ["F1", "F4"]
[[relay.receiver]]
receiver   = "fm-video-1g3"
antenna    = "wide-panel"
facing_deg = -12
tilt_deg   = 4
[relay.claim]
channel  = "F4"
power_mw = 25
on_bench = true

[emission.my-video]
title             = "Measured at home"
density_db        = [[0, 0], [5, -3], [10, -20], [30, -50]]
sigma_mhz         = 3
constant_envelope = true
class             = "F3F"
modulating_mhz    = 5
deviation_mhz     = 3.5
[emission.my-video.provenance]
density_db = ["derived", "a borrowed analyser"]

[receiver.my-receiver]
title                  = "With a low-noise amplifier in front"
selectivity_db         = [[0, 0], [8, 3], [20, 30], [40, 55]]
cascade                = [{gain_db = 15, noise_figure_db = 1}, {gain_db = -6, noise_figure_db = 6}]
iip3_dbm               = -15
p1db_dbm               = -25
strongest_wanted_dbm   = 0
watchable_db           = 10
sharp_db               = 20
front_end_mhz          = [5500, 6000]
front_end_rejection_db = 40

[antenna.my-whip]
title              = "A whip"
gain_dbi           = 2
vertical_width_deg = 70
floor_db           = 15
polarisation       = "linear"

[control_link.hopping-2g4]
band_mhz        = [2405, 2480]
bandwidth_mhz   = 1
noise_figure_db = 7
required_db     = 6
hopping         = true

[positioning_receiver.satellite-l1]
bands_mhz       = [[1559, 1606]]
noise_figure_db = 2

[rules.club]
title   = "The club's own sheet"
source  = "general meeting"
edition = "second"
date    = "2026-03-01"
note    = "ask the marshal"
allow   = [{band_mhz = [5650, 5925], eirp_mw = 25, note = "video"}, {band_mhz = [1240, 1300]}]
)toml";
}

std::string changed(std::string_view text, std::string_view from, std::string_view to) {
    const auto at = text.find(from);
    if (at == text.npos) throw std::logic_error("not in the text: " + std::string(from));
    return std::string(text.substr(0, at)) + std::string(to) +
           std::string(text.substr(at + from.size()));
}

v1::DaySheet sheet_of(std::string_view text) {
    book::Problems problems;
    auto sheet = book::read_day(text, "day.toml", problems);
    if (sheet) return *std::move(sheet);
    std::string all = "the day does not read:";
    for (const auto& problem : problems) all += "\n" + to_string(problem);
    throw std::logic_error(all);
}

std::string field_text() {
    std::string text = R"toml([day]
name = "Training evening"
date = 2026-06-12
[field]
name = "Alder Meadow"
[[field.area]]
name = "circuit"
centre_m = [6, 80]
radius_m = 50
height_m = [3, 40]
[[field.area]]
name = "valley"
centre_m = [-400, 1800]
radius_m = 900
height_m = [60, 150]
)toml";
    const auto place = [&](std::string_view name, double east_m, double north_m, double height_m) {
        text += fmt::format("[[field.place]]\nname = \"{}\"\nat_m = [{}, {}]\nheight_m = {}\n",
                            name, east_m, north_m, height_m);
    };
    place("line-1", 0, 0, 1.7);
    place("line-2", 4, 0, 1.7);
    place("line-3", 8, 0, 1.7);
    place("line-4", 12, 0, 1.7);
    place("tripod", -10, 0, 2.5);
    place("chair", -32, 0, 1.4);
    place("pits", 0, -30, 1.2);
    return text;
}

std::string text_of(const PilotText& p) {
    return fmt::format(R"toml(
[[pilot]]
name = "{}"
place = "{}"
area = "{}"
{}
[pilot.video]
emission = "fm-video"
antenna = "circular-omni"
polarisation = "rhcp"
{}
[[pilot.receiver]]
receiver = "fm-video-5g8"
antenna = "circular-omni"
polarisation = "rhcp"
{}
[pilot.claim]
channel = "{}"
power_mw = {}
{}
)toml",
                       p.name, p.place, p.area, p.more, p.more_video, p.more_goggles, p.channel,
                       p.power_mw, p.stage);
}

std::string text_of(const RelayText& r) {
    return fmt::format(R"toml(
[[relay]]
name = "{}"
owner = "{}"
place = "{}"
emission = "fm-video"
antenna = "circular-omni"
polarisation = "rhcp"
{}
{}
[relay.claim]
channel = "{}"
power_mw = {}
on_air = true
)toml",
                       r.name, r.owner, r.place, r.more, r.tables, r.channel, r.power_mw);
}

}  // namespace fieldpeg::testing
