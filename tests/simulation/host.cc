#include "tests/simulation/host.h"

#include "server/wire/within.h"
#include "tests/simulation/session.h"
#include "tests/support/random.h"
#include "tests/support/rates.h"

#include <fmt/format.h>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>

#include <exception>
#include <utility>
#include <vector>

namespace fieldpeg::simulation {
namespace {

std::string told(const std::exception_ptr& mistake) {
    try {
        std::rethrow_exception(mistake);
    } catch (const std::exception& e) {
        return e.what();
    }
}

}  // namespace

/// What is gone with the program. Whatever still waits in a loop is gone last, and does nothing.
struct Host::Running {
    Running(std::unique_ptr<service::Keeper> opened, service::Clock clock)
        : keeper(std::move(opened)),
          desk(loop.get_executor(), *keeper, std::move(clock),
               {log_loop.get_executor(), planner_loop.get_executor(), log_loop.get_executor(),
                log_loop.get_executor()}),
          form([](const v1::ServerFrame& m) { return wire::frame(m); }) {}

    asio::io_context loop{1};
    asio::io_context log_loop{1};
    asio::io_context planner_loop{1};
    asio::executor_work_guard<asio::io_context::executor_type> goes_on = make_work_guard(loop);
    asio::executor_work_guard<asio::io_context::executor_type> log_goes_on =
        make_work_guard(log_loop);
    std::unique_ptr<service::Keeper> keeper;
    service::Desk desk;
    wire::Form form;
    wire::Gate gate{testing::unhurried};
    std::map<std::uint64_t, std::unique_ptr<Session>> sessions;
    bool desk_has_ended = false;
};

Host::Host(Clockwork& clockwork, Network& network, UnsureDisk& disk, service::DayFiles files,
           Chance& chance)
    : clockwork_(clockwork),
      network_(network),
      disk_(disk),
      files_(std::move(files)),
      chance_(chance) {}

Host::~Host() = default;

bool Host::start() {
    std::vector<std::string> differences;
    auto keeper =
        service::Keeper::open(files_, log::DayLog::Access::write, clockwork_.utc_ms(), differences);
    if (!keeper) {
        last_mistake = keeper.error().where + " " + keeper.error().why;
        return false;
    }
    (*keeper)->started_anew(clockwork_.utc_ms());
    stopping_ = false;
    running_ =
        std::make_unique<Running>(*std::move(keeper), [this] { return clockwork_.utc_ms(); });
    name_tickets();
    asio::co_spawn(running_->loop, running_->desk.run(), [this](const std::exception_ptr& e) {
        running_->desk_has_ended = true;
        if (e) last_mistake = "the desk has ended: " + told(e);
    });
    return true;
}

void Host::name_tickets() {
    running_->keeper->write_ticket = [this](const std::string& secret, v1::TicketReply& reply) {
        reply.set_ticket(fmt::format("ticket {}", secrets_.size() + 1));
        secrets_[reply.ticket()] = secret;
    };
}

void Host::crash() {
    disk_.cut();  // what its end would still write is not written
    running_.reset();
    network_.cut_all();
}

void Host::stop() {
    stopping_ = true;
    const auto goes_on_until = [&](const auto& holds) {
        while (!holds() && disk_.has_power())
            if (!step()) look_at_the_time();
    };
    for (const auto& [number, session] : running_->sessions) session->hang_up();
    goes_on_until([&] { return running_->sessions.empty(); });
    running_->desk.close();
    goes_on_until([&] { return running_->desk_has_ended; });
    if (!disk_.has_power()) return crash();
    running_.reset();
    network_.cut_all();
}

bool Host::accept(const std::shared_ptr<Cable>& cable) {
    if (!running_ || stopping_) return false;
    const auto number = cable->number;
    auto& session = running_->sessions[number];
    session = std::make_unique<Session>(running_->loop.get_executor(), running_->desk,
                                        running_->form, running_->gate, network_, cable);
    asio::co_spawn(running_->loop, session->run(), [this, number](const std::exception_ptr& e) {
        if (e && !wire::was_cancelled(e)) last_mistake = "a session has ended: " + told(e);
        ended(number);
    });
    return true;
}

/// It is still in the coroutine that has ended.
void Host::ended(std::uint64_t number) {
    asio::post(running_->loop, [this, number] { running_->sessions.erase(number); });
}

bool Host::step() {
    auto& first = testing::chance(chance_, 30) ? running_->log_loop : running_->loop;
    auto& second = &first == &running_->loop ? running_->log_loop : running_->loop;
    return first.poll_one() > 0 || second.poll_one() > 0;
}

/// Asio looks at a timer's clock when the machine's own timer tells it to: one that is due at once
/// makes it.
void Host::look_at_the_time() {
    service::Timer now(running_->loop, service::Timer::time_point::min());
    bool has_looked = false;
    now.async_wait([&](const boost::system::error_code&) { has_looked = true; });
    while (!has_looked) running_->loop.poll_one();
}

service::Keeper& Host::keeper() {
    return *running_->keeper;
}

service::Desk& Host::desk() {
    return running_->desk;
}

const std::string& Host::secret(const std::string& ticket) const {
    return secrets_.at(ticket);
}

std::string Host::ticket(v1::Role::Kind role, const std::string& pilot) {
    service::Ask ask;
    ask.command.mutable_renew_ticket()->set_role(role);
    ask.command.mutable_renew_ticket()->set_pilot(pilot);
    return running_->keeper->take(ask, clockwork_.utc_ms()).ticket().ticket();
}

}  // namespace fieldpeg::simulation
