#pragma once

#include "client/link/link.h"
#include "server/book/problem.h"
#include "server/service/keeper.h"

#include "fieldpeg/v1/day.pb.h"

#include <functional>
#include <memory>
#include <optional>
#include <string>

namespace fieldpeg::link {

/// A service in this process, over a day file or over none. Nothing is written.
class InProcess : public Link {
public:
    InProcess() = default;
    explicit InProcess(v1::DaySheet sheet) : sheet_(std::move(sheet)) {}

    v1::Answer ask(const v1::Query& query) override;
    v1::Answer ask_long(const v1::Query& query, const Progress& progress) override;
    v1::Reply send(const v1::Command& command) override;
    v1::Refusal watch(const Watcher& watcher) override;

private:
    std::optional<v1::DaySheet> sheet_;
};

/// A service in this process that holds a day and its log, as a server would.
class DayInProcess : public Link {
public:
    DayInProcess(std::unique_ptr<service::Keeper> keeper, std::string as, bool makes_tickets);

    v1::Answer ask(const v1::Query& query) override;
    v1::Answer ask_long(const v1::Query& query, const Progress& progress) override;
    v1::Reply send(const v1::Command& command) override;
    v1::Refusal watch(const Watcher& watcher) override;
    std::string self() const override { return as_; }

private:
    std::unique_ptr<service::Keeper> keeper_;
    std::string as_;  ///< a pilot's name; empty: the marshal
    bool makes_tickets_;
};

/// Writes a secret out as a ticket, with what a client needs to find the server and to know it.
using TicketWriter = std::function<void(const std::string& secret, v1::TicketReply& ticket)>;

/// Tickets of a day whose server is not running: the fingerprint is that of its identity file, the
/// address that of the tickets beside it, unless another is given as "HOST" or "HOST:PORT". Refused
/// where either is not known: nothing is made.
Result<TicketWriter> ticket_writer(const std::string& day_file, const std::string& address);

/// Whether there is a log beside a day file: from then on it is what counts.
bool has_begun(const std::string& day_file);

/// A link to a day file as it is written, its log left alone; null if it cannot be read, with all
/// that is wrong on the list.
std::unique_ptr<Link> open_day(const std::string& path, book::Problems& problems);

/// A link to a day and its log. `as` is the pilot to act for, empty for the marshal. To write, it
/// is made if there is none, and refused while a server holds the day; to read, nothing is touched.
/// Without a writer no ticket can be renewed.
Result<std::unique_ptr<Link>> open_log(const std::string& path, log::DayLog::Access access,
                                       const std::string& as, std::vector<std::string>& differences,
                                       TicketWriter writer = {});

}  // namespace fieldpeg::link
