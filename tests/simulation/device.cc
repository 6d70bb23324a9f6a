#include "tests/simulation/device.h"

#include "tests/simulation/commands.h"
#include "tests/simulation/promises.h"
#include "tests/support/pegs.h"
#include "tests/support/random.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cstring>
#include <utility>

namespace fieldpeg::simulation {
namespace {

using link::Unanswered;
using testing::chance;
using testing::whole;

const link::Patience patience;

}  // namespace

Device::Device(World& world, int number, Owner owner)
    : world_(world),
      number_(number),
      owner_(std::move(owner)),
      by_changes_(chance(world.chance, 70)) {
    make_a_key();
}

Device::~Device() {
    if (cable_) cable_->client = {};
}

void Device::make_a_key() {
    key_.clear();
    for (int i = 0; i < 32; ++i) key_ += static_cast<char>(whole(world_.chance, 0, 255));
    is_member_ = false;
}

void Device::note(const std::string& line) const {
    world_.note(fmt::format("{} ({}) {}", owner_.name, number_, line));
}

void Device::later(std::int64_t wait_ms, std::function<void()> happening) {
    world_.clockwork.after(wait_ms, [this, epoch = epoch_, happening = std::move(happening)] {
        if (epoch == epoch_) happening();
    });
}

void Device::begin() {
    world_.clockwork.after(whole(world_.chance, 0, 3000), [this] { live(); });
}

void Device::live() {
    act();
    world_.clockwork.after(whole(world_.chance, 200, 5000), [this] { live(); });
}

void Device::act() {
    if (!cable_) return connect();
    if (!up_ || world_.is_calm) return;
    if (pending_) {  // impatient: the same once more, before there is an answer
        if (pending_->is_on_its_way && chance(world_.chance, 10)) send_pending();
        return;
    }
    const int what = whole(world_.chance, 0, 99);
    if (what < 76) return ask_for_something();
    if (what < 90) return ask_a_question();
    if (what < 93) return ask_again();
    if (what < 97) return hang_up();
    if (what < 98) return watch();
    if (!chance(world_.chance, 30)) return;
    note("is another phone now");
    make_a_key();
    hang_up();
}

void Device::ask_for_something() {
    v1::Request request;
    request.set_id(++last_id_);
    const auto key = fmt::format("{}.{}", number_, last_id_);
    *request.mutable_command() = random_command(world_.chance, world_.oracle.day(), person_, key);
    request.set_idempotency_key(key);
    begin_asking(std::move(request));
}

bool Device::note_a_sighting() {
    const bool may = person_.role() == v1::Role::marshal || person_.role() == v1::Role::pilot;
    if (!up_ || pending_ || person_.awaits_nod() || !may) return false;
    v1::Request request;
    request.set_id(++last_id_);
    request.set_idempotency_key(fmt::format("{}.{}", number_, last_id_));
    auto& see = *request.mutable_command()->mutable_see();
    *see.mutable_channel() = testing::channel("E3");
    see.set_note("mark-" + request.idempotency_key());
    begin_asking(std::move(request));
    return true;
}

void Device::ask_a_question() {
    v1::Request request;
    request.set_id(++last_id_);
    auto& query = *request.mutable_query();
    switch (whole(world_.chance, 0, 4)) {
        case 0:
            query.mutable_check()->set_basis(v1::Basis::on_air);
            break;
        case 1:
            query.mutable_log()->set_most(5);
            break;
        case 2:
            query.mutable_day();
            break;
        default:
            query.mutable_board();
    }
    begin_asking(std::move(request));
}

void Device::begin_asking(v1::Request request) {
    asked_[request.id()] = request;
    pending_ =
        Pending{std::move(request), link::Retry::of_a_request(patience, world_.clockwork.steady())};
    try_pending();
}

/// Somebody who presses once more, long after: by the same key.
void Device::ask_again() {
    if (asked_.empty()) return ask_a_question();
    auto request =
        std::next(asked_.begin(), whole(world_.chance, 0, static_cast<int>(asked_.size()) - 1))
            ->second;
    if (!request.has_command()) return ask_a_question();
    note("asks once more for " + request.idempotency_key());
    pending_ =
        Pending{std::move(request), link::Retry::of_a_request(patience, world_.clockwork.steady())};
    try_pending();
}

void Device::try_pending() {
    if (up_) return send_pending();
    if (!cable_) connect();
}

void Device::send_pending() {
    pending_->is_on_its_way = true;
    ++pending_->sends;
    if (++sends_[pending_->request.id()] > 1) {
        ++world_.tally.sent_again;
        if (world_.fault == Fault::new_key_each_time)
            pending_->request.set_idempotency_key(fmt::format(
                "{} {}", asked_[pending_->request.id()].idempotency_key(), pending_->sends));
    }
    world_.oracle.sent(pending_->request.idempotency_key());
    v1::ClientFrame m;
    *m.mutable_request() = pending_->request;
    send(m);
    later(patience.answer.count(), [this, id = pending_->request.id(), sends = pending_->sends] {
        if (!pending_ || pending_->request.id() != id || pending_->sends != sends) return;
        note("waits no longer");
        lost();
    });
}

void Device::unanswered(Unanswered what) {
    if (!pending_) return;
    pending_->is_on_its_way = false;
    const auto wait = pending_->retry.after(what, world_.clockwork.steady());
    if (!wait) {
        if (pending_->request.has_command())
            ++world_.tally.commands[name_of(pending_->request.command())].unknown;
        note("gives up " + pending_->request.idempotency_key());
        pending_.reset();
        return;
    }
    using std::chrono::milliseconds;
    world_.clockwork.after(std::chrono::duration_cast<milliseconds>(*wait).count(),
                           [this, id = pending_->request.id()] {
                               const bool is_same = pending_ && pending_->request.id() == id;
                               if (is_same && !pending_->is_on_its_way) try_pending();
                           });
}

}  // namespace fieldpeg::simulation
