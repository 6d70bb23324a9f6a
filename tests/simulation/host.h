#pragma once

#include "server/service/desk.h"
#include "server/wire/conversation.h"
#include "tests/simulation/clockwork.h"
#include "tests/simulation/network.h"
#include "tests/simulation/unsure_disk.h"

#include <boost/asio/io_context.hpp>

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>

namespace fieldpeg::simulation {

class Session;

/// The machine on which the server runs, when it does: keeper, desk and conversations as they are,
/// in one thread, a handler at a time.
class Host {
public:
    Host(Clockwork& clockwork, Network& network, UnsureDisk& disk, service::DayFiles files,
         Chance& chance);
    ~Host();
    Host(const Host&) = delete;
    Host& operator=(const Host&) = delete;

    /// False: the log could not be opened, or what was to be said at once not be written.
    bool start();
    /// Ends it in the middle of whatever it does.
    void crash();
    /// Ends it in order: what was asked is answered.
    void stop();
    bool is_up() const { return running_ != nullptr; }
    /// Stopping: nobody is let in any more.
    bool is_stopping() const { return stopping_; }

    /// Somebody calls. False: nobody is there.
    bool accept(const std::shared_ptr<Cable>& cable);
    /// One handler, if there is one. What the log does goes on when the disk likes.
    bool step();
    /// The desk looks at the time.
    void look_at_the_time();

    service::Keeper& keeper();
    service::Desk& desk();

    /// The secret of a ticket as replies show it: the same in each run.
    const std::string& secret(const std::string& ticket) const;
    /// Who makes tickets at the server itself.
    std::string ticket(v1::Role::Kind role, const std::string& pilot);

    /// What ended that should not have, or why it could not start.
    std::string last_mistake;

private:
    struct Running;

    void ended(std::uint64_t number);
    void name_tickets();

    Clockwork& clockwork_;
    Network& network_;
    UnsureDisk& disk_;
    service::DayFiles files_;
    Chance& chance_;
    bool stopping_ = false;
    std::map<std::string, std::string> secrets_;
    std::unique_ptr<Running> running_;
};

}  // namespace fieldpeg::simulation
