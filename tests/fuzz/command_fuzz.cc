// Whatever comes over the wire: a frame's length, a command, a ticket. What is accepted must be
// something that the day can decide and apply; nothing may end the program.

#include "server/day/apply.h"
#include "server/day/decide.h"
#include "server/service/resolve.h"
#include "server/wire/discovery.h"
#include "server/wire/frame_channel.h"
#include "server/wire/ticket.h"

#include "server/book/day_file.h"

#include "fieldpeg/v1/wire.pb.h"

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <string>
#include <string_view>

namespace fieldpeg {
namespace {

constexpr std::string_view small_day = R"(
[day]
name = "Meadow"
date = 2026-09-19
[field]
name = "Alder Meadow"
[[field.place]]
name = "line"
at_m = [0, 0]
height_m = 1.7
[[field.area]]
name = "circuit"
centre_m = [0, 85]
radius_m = 55
height_m = [3, 50]
[[pilot]]
name = "Ann"
place = "line"
area = "circuit"
video = {emission = "fm-video", antenna = "circular-omni", polarisation = "rhcp", power_mw = [25, 200]}
receiver = [{receiver = "fm-video-5g8", antenna = "circular-patch", polarisation = "rhcp"}]
)";

v1::DayState started() {
    book::Problems problems;
    const auto sheet = book::read_day(small_day, "small.toml", problems);
    if (!sheet) std::abort();
    v1::DayState state;
    for (const auto& event : day::set_up(state, *sheet, 0).events) day::apply(state, event);
    return state;
}

void decide(const std::string& bytes) {
    static const v1::DayState day = started();
    v1::Command command;
    if (!command.ParseFromString(bytes)) return;
    const auto resolved = service::resolve(command, day, 1);
    if (!resolved) return;
    for (const auto& actor : {day::Actor{}, day::Actor{1, v1::Role::pilot}}) {
        const auto decision = day::decide(day, actor, *resolved, 1);
        auto after = day;
        for (const auto& event : decision.events) day::apply(after, event);
        if (decision.reply.version() != after.version()) std::abort();
        if (decision.reply.has_refusal() && !decision.events.empty()) std::abort();
    }
}

void read_ticket(std::string_view text) {
    const auto ticket = wire::read_ticket(text);
    if (!ticket) return;
    const auto again = wire::read_ticket(wire::ticket_text(*ticket));
    if (!again || again->secret != ticket->secret || again->fingerprint != ticket->fingerprint)
        std::abort();
}

/// However they come: what is made of them is the same.
void read_frames(std::string_view bytes) {
    std::size_t made_before = 0;
    for (const std::size_t piece : {std::size_t{1}, std::size_t{7}, bytes.size() + 1}) {
        wire::FrameChannel channel(wire::client_frame_max);
        std::size_t made = 0;
        for (std::size_t at = 0; at < bytes.size();) {
            const auto room = channel.room();
            const auto size = std::min({piece, room.size(), bytes.size() - at});
            std::memcpy(room.data(), bytes.data() + at, size);
            channel.arrived(size);
            at += size;
            v1::ClientFrame m;
            auto next = channel.next(m);
            for (; next && *next; next = channel.next(m)) ++made;
        }
        if (piece > 1 && made != made_before) std::abort();
        made_before = made;
    }
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string bytes(reinterpret_cast<const char*>(data), size);
    fieldpeg::decide(bytes);
    fieldpeg::read_ticket(bytes);
    fieldpeg::wire::read_notice(bytes, "192.0.2.1");
    fieldpeg::read_frames(bytes);
    return 0;
}
