#include "server/planner/room.h"

#include <algorithm>
#include <utility>

namespace fieldpeg::planner {
namespace {

Question with(Question question, const Newcomer& kind, std::size_t count) {
    std::size_t first_owner = 0;
    for (const auto& receiver : question.scene.receivers)
        first_owner = std::max(first_owner, receiver.owner + 1);
    for (std::size_t i = 0; i < count; ++i) {
        const std::size_t transmitter = question.scene.transmitters.size();
        question.scene.transmitters.push_back(kind.transmitter);
        question.allowed.push_back(kind.allowed);
        for (auto receiver : kind.receivers) {
            receiver.hears = transmitter;
            receiver.owner = first_owner + i;
            question.scene.receivers.push_back(receiver);
        }
        for (auto beside : kind.beside) {
            beside.follows = transmitter;
            beside.transmitter.spares = first_owner + i;
            question.beside.push_back(beside);
        }
    }
    return question;
}

enum class Fit { yes, no, open };

Fit fits(Question question, double target_db, const Effort& effort) {
    const Tables tables(std::move(question));
    const auto found = choice_reaching(tables.problem(), tables.reckon(), target_db, effort);
    if (found.best && found.worst_db >= target_db) return Fit::yes;
    return found.bound_db <= target_db ? Fit::no : Fit::open;
}

}  // namespace

bool has_good_flight(const Question& question, const Newcomer& kind) {
    if (kind.receivers.empty()) return true;  // nobody looks
    auto asked = with(question, kind, 1);
    const auto owner = asked.scene.receivers.back().owner;
    const Tables alone(only(asked, question.scene.transmitters.size()));
    for (std::size_t i = 0; i < alone.viewers().size(); ++i)
        if (alone.viewers()[i].owner == owner) return alone.counts(i);
    return true;
}

Room room(const Question& question, const Newcomer& kind, spectrum::Decibel target,
          std::size_t most, const Effort& effort) {
    Room room{0, false, {}};
    if (!has_good_flight(question, kind)) return {0, true, {}};
    while (room.more < most && !effort.stop()) {
        const Fit next = fits(with(question, kind, room.more + 1), target.count(), effort);
        room.proved = next == Fit::no;
        if (next != Fit::yes) break;
        ++room.more;
    }
    for (const auto channel : kind.allowed.channels) {
        if (room.more == 0 || effort.stop()) break;
        auto asked = with(question, kind, room.more);
        asked.allowed[question.allowed.size()].channels = {channel};
        if (fits(std::move(asked), target.count(), effort) == Fit::yes)
            room.channels.push_back(channel);
    }
    return room;
}

}  // namespace fieldpeg::planner
