#include "server/book/day_file.h"
#include "server/book/day_reading.h"

#include <utility>

namespace fieldpeg::book {
namespace {

void check_own_channel(Reader& claim, const DayReading& day, const std::string& owner,
                       const v1::Claim& read) {
    for (const auto& other : day.sheet.relays())
        if (other.owner() == owner && other.has_claim() &&
            other.claim().channel().mhz() == read.channel().mhz())
            claim.problem("channel",
                          fmt::format("{} is held by '{}' of the same owner already",
                                      read.channel().name(), other.name()),
                          "a channel of its own for each relay");
}

const v1::Pilot* read_owner(Reader& r, const DayReading& day, v1::Relay& relay) {
    const auto written = r.text("owner", Need::required);
    if (!written) return nullptr;
    const auto* owner = known(r, "owner", *written, day.sheet.pilots(), "pilot");
    if (owner) relay.set_owner(owner->name());
    return owner;
}

void read_gear_of(Reader& r, const DayReading& day, v1::Relay& relay) {
    auto* defaults = relay.mutable_defaults();
    *relay.mutable_transmitter() = read_transmitter(r, day, "relay", Carrier::ground, *defaults);
    r.tables("receiver", receivers_max, [&](Reader& receiver, std::size_t index) {
        const ReceiverOf whose{relay.name(), false, index, relay.receivers()};
        auto read = read_receiver(receiver, day, whose, *defaults);
        *relay.add_receivers() = std::move(read);
    });
}

}  // namespace

void read_relay(Reader& r, DayReading& day) {
    v1::Relay relay;
    const auto name = r.name("name", Need::required);
    if (name) {
        r.called(fmt::format("relay '{}'", *name));
        take_name_of(r, day, *name);
        relay.set_name(*name);
        if (name_key(*name) == "video")
            r.problem("name", "'video' is what receivers call their owner's aircraft",
                      "another name");
    }
    const auto* owner = read_owner(r, day, relay);
    relay.set_place(read_place_name(r, day, "place", Need::required));
    read_gear_of(r, day, relay);
    if (owner && !owner->has_video() && relay.receivers_size() > 0)
        r.problem("receiver", fmt::format("hears nothing, {} has no video", owner->name()),
                  "a [pilot.video] of the owner, or no receiver here");
    r.table("claim", "claim", [&](Reader& claim) {
        auto read = read_claim(claim, day, relay.transmitter());
        if (!read) return;
        check_own_channel(claim, day, relay.owner(), *read);
        *relay.mutable_claim() = *std::move(read);
    });
    place_named(*day.sheet.mutable_relays(), relay.name()) = std::move(relay);
}

}  // namespace fieldpeg::book
