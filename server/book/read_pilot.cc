#include "server/book/day_file.h"
#include "server/book/day_reading.h"

#include <utility>

namespace fieldpeg::book {
namespace {

void read_onboard(Reader& r, const DayReading& day, v1::Pilot& pilot) {
    if (const auto name = r.text("control_link"))
        if (const auto* c =
                known(r, "control_link", *name, day.gear.control_links(), "control link"))
            pilot.set_control_link(c->name());
    if (const auto name = r.text("positioning_receiver"))
        if (const auto* p = known(r, "positioning_receiver", *name,
                                  day.gear.positioning_receivers(), "positioning receiver"))
            pilot.set_positioning_receiver(p->name());
}

void read_gear_of(Reader& r, const DayReading& day, v1::Pilot& pilot) {
    auto* defaults = pilot.mutable_defaults();
    r.table("video", "video", [&](Reader& video) {
        *pilot.mutable_video() =
            read_transmitter(video, day, "video", Carrier::aircraft, *defaults);
    });
    r.tables("receiver", receivers_max, [&](Reader& receiver, std::size_t index) {
        const ReceiverOf whose{pilot.name(), true, index, pilot.receivers()};
        auto read = read_receiver(receiver, day, whose, *defaults);
        *pilot.add_receivers() = std::move(read);
    });
    r.table("uplink", "ground side", [&](Reader& uplink) {
        *pilot.mutable_uplink() = read_uplink(uplink, day, pilot, *defaults);
    });
    r.table("handset", "handset", [&](Reader& handset) {
        *pilot.mutable_handset() = read_handset(handset, day, *defaults);
    });
    r.table("control", "control", [&](Reader& control) {
        *pilot.mutable_control() = read_control(control, day, pilot, *defaults);
    });
}

}  // namespace

void read_pilot(Reader& r, DayReading& day) {
    v1::Pilot pilot;
    const auto name = r.name("name", Need::required);
    if (name) {
        r.called(fmt::format("pilot '{}'", *name));
        take_name_of(r, day, *name);
        pilot.set_name(*name);
    }
    if (const auto kit = r.text("kit")) {
        pilot.set_kit(*kit);
        pilot.add_defaults(fmt::format("gear as of the kit {}", *kit));
    }
    pilot.set_place(read_place_name(r, day, "place", Need::required));
    const auto area = r.text("area", r.has("video") ? Need::required : Need::optional);
    if (area)
        if (const auto* a = known(r, "area", *area, day.sheet.field().areas(), "area"))
            pilot.set_area(a->name());
    pilot.set_usual_minutes(read_usual_minutes(r));
    pilot.set_bench_place(read_place_name(r, day, "bench_place"));
    read_onboard(r, day, pilot);
    read_gear_of(r, day, pilot);
    r.table("claim", "claim", [&](Reader& claim) {
        auto read = read_claim(claim, day, pilot.video());
        if (!pilot.has_video())
            claim.problem("", "is held by nobody", "a [pilot.video] that it is for");
        else if (read)
            *pilot.mutable_claim() = *std::move(read);
    });
    place_named(*day.sheet.mutable_pilots(), pilot.name()) = std::move(pilot);
}

}  // namespace fieldpeg::book
