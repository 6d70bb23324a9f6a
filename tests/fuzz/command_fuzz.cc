// Whatever comes over the wire: frames, commands, questions, wishes to join. What is accepted must
// be something that the day can decide, record and apply, and that can be looked at afterwards;
// nothing may end the program.

#include "server/day/check.h"
#include "server/planning/plan.h"
#include "server/service/record.h"
#include "server/wire/frame_channel.h"
#include "tests/fuzz/lively_day.h"
#include "tests/fuzz/mutated.h"

#include "fieldpeg/v1/json.h"
#include "fieldpeg/v1/numbers.h"
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

void require(bool holds) {
    if (!holds) std::abort();
}

/// Decided as the server does, and not kept.
void decide(const v1::Request& request, const day::Actor& actor) {
    auto& day = fuzz::lively_day();
    service::Ask ask;
    ask.actor = actor;
    ask.command = request.command();
    ask.idempotency_key = request.idempotency_key();
    const auto prepared = day.keeper().prepare({&ask, 1}, day.now_ms() + 1000);
    const auto& reply = prepared.replies.front();
    v1::json_text(reply, {.on_lines = false, .with_zeros = true});
    require(v1::are_numbers_plain(reply));
    require(reply.has_ticket() || prepared.batch.entries.size() == prepared.events.size());
    log::Names names = prepared.batch.names;
    for (const auto& entry : prepared.batch.entries) {
        require(service::event(entry, names).has_value());
        require(!entry.kind.empty());
    }
    if (prepared.events.empty()) return;
    require(v1::are_numbers_plain(prepared.after));
    day::check(prepared.after.sheet(), v1::Basis::on_air, 3);
}

v1::Answer answered(v1::Query query) {
    auto& day = fuzz::lively_day();
    if (!planning::takes_long(query)) return day.keeper().answer(query, day.now_ms());
    constexpr double hardly_any = 0.02;
    for (auto* planned : {query.has_plan() ? query.mutable_plan()->mutable_planned() : nullptr,
                          query.has_rota() ? query.mutable_rota()->mutable_planned() : nullptr,
                          query.has_room() ? query.mutable_room()->mutable_planned() : nullptr})
        if (planned && planned->seconds() > hardly_any) planned->set_seconds(hardly_any);
    return planning::plan(query, day.keeper().state().sheet(), {});
}

void answer(const v1::Query& query) {
    const auto said = answered(query);
    require(v1::are_numbers_plain(said));
    v1::json_text(said, {.on_lines = false, .with_zeros = false});
}

void join(const v1::JoinRequest& wish) {
    service::Entrance entrance{wish.secret(), wish.name(), wish.key_hash()};
    auto& day = fuzz::lively_day();
    const auto prepared = day.keeper().prepare_entrance(entrance, day.now_ms() + 1000);
    require(prepared.replies.size() == 1);
}

void take(const v1::ClientFrame& m) {
    if (m.hello().has_join()) join(m.hello().join());
    if (m.request().has_query()) answer(m.request().query());
    if (!m.request().has_command()) return;
    decide(m.request(), {});
    decide(m.request(), {1, v1::Role::pilot});
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
        require(piece == 1 || made == made_before);
        made_before = made;
    }
}

v1::ClientFrame known(unsigned at) {
    const auto& commands = fuzz::commands();
    const auto& queries = fuzz::queries();
    v1::ClientFrame m;
    at %= static_cast<unsigned>(commands.size() + queries.size() + 1);
    if (at < commands.size())
        *m.mutable_request()->mutable_command() = commands[at];
    else if (at < commands.size() + queries.size())
        *m.mutable_request()->mutable_query() = queries[at - commands.size()];
    else
        m.mutable_hello()->mutable_join()->set_name("Eva");
    return m;
}

}  // namespace
}  // namespace fieldpeg

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string bytes(reinterpret_cast<const char*>(data), size);
    fieldpeg::read_frames(bytes);
    fieldpeg::v1::ClientFrame m;
    if (m.ParseFromString(bytes)) fieldpeg::take(m);
    return 0;
}

extern "C" std::size_t LLVMFuzzerCustomMutator(std::uint8_t* data, std::size_t size,
                                               std::size_t most, unsigned seed) {
    fieldpeg::v1::ClientFrame m;
    if (size < 2 || !m.ParseFromArray(data, static_cast<int>(size))) m = fieldpeg::known(seed / 8);
    return fieldpeg::fuzz::mutated(m, data, size, most, seed);
}
