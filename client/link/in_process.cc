#include "client/link/in_process.h"

#include "client/link/understood.h"
#include "server/book/day_file.h"
#include "server/book/names.h"
#include "server/planning/plan.h"
#include "server/service/answer.h"
#include "server/service/private_file.h"
#include "server/wire/addresses.h"
#include "server/wire/authority.h"
#include "server/wire/identity.h"
#include "server/wire/listener.h"
#include "server/wire/ticket.h"

#include <fmt/format.h>
#include <spdlog/spdlog.h>

#include <filesystem>
#include <sstream>
#include <system_error>
#include <utility>

namespace fieldpeg::link {
namespace {

void speak_for(const std::string& who, v1::Command& command) {
    const auto fill = [&](std::string& transmitter) {
        if (transmitter.empty()) transmitter = who;
    };
    switch (command.ask_case()) {
        case v1::Command::kClaim:
            return fill(*command.mutable_claim()->mutable_transmitter());
        case v1::Command::kRelease:
            return fill(*command.mutable_release()->mutable_transmitter());
        case v1::Command::kOn:
            return fill(*command.mutable_on()->mutable_transmitter());
        case v1::Command::kOff:
            return fill(*command.mutable_off()->mutable_transmitter());
        default:
            return;
    }
}

/// Of a file or a log that was written by whoever: no less fit than what a server says.
template <class Message>
Message fit(Message message) {
    made_fit(message);
    return message;
}

v1::Refusal no_day() {
    v1::Refusal m;
    m.set_kind(v1::Refusal::malformed);
    m.set_why("there is no day here that could change");
    m.set_next("join a server, or name a day: --day FILE");
    return m;
}

v1::Refusal no_address() {
    v1::Refusal m;
    m.set_kind(v1::Refusal::malformed);
    m.set_why("a ticket names its server, which is not known here: nothing was renewed");
    m.set_next("ask the server that was joined, or say --day FILE");
    return m;
}

/// Where the tickets of a day say that its server is.
Result<wire::Authority> address_in(const std::string& tickets) {
    const Refusal unknown{Refusal::Kind::not_found, tickets, "does not say where the server is",
                          "say how others reach it: --host ADDRESS:PORT"};
    std::error_code none;
    if (!std::filesystem::exists(tickets, none)) return unknown;
    const auto all = service::read_private(tickets);
    if (!all) return all.error();
    std::istringstream lines(*all);
    for (std::string line; std::getline(lines, line);)
        if (const auto ticket = wire::read_ticket(line))
            return wire::Authority{ticket->host, false, ticket->port};
    return unknown;
}

Result<wire::Authority> read_address(const std::string& written) {
    auto read = wire::read_authority(written);
    if (read && !read->host.empty() && read->port.value_or(wire::port_default) != 0) return *read;
    return Refusal{Refusal::Kind::malformed, "--host", "is no address", "192.168.4.1:7323"};
}

}  // namespace

Result<TicketWriter> ticket_writer(const std::string& day_file, const std::string& address) {
    const auto files = service::files_of(day_file);
    std::error_code none;
    if (!std::filesystem::exists(files.identity, none))
        return Refusal{
            Refusal::Kind::not_found, files.identity,
            "is not there: no server was ever started on this day",
            fmt::format("its first start makes the tickets: fieldpegd --day {}", day_file)};
    const auto identity = wire::identity_at(files.identity);
    if (!identity) return identity.error();
    const auto at = address.empty() ? address_in(files.tickets) : read_address(address);
    if (!at) return at.error();
    const auto port = at->port.value_or(wire::port_default);
    return TicketWriter([host = at->host, port, fingerprint = identity->fingerprint](
                            const std::string& secret, v1::TicketReply& ticket) {
        const auto page_port = static_cast<std::uint16_t>(port + 1);  // where it is by default
        ticket.set_ticket(wire::ticket_text({host, port, fingerprint, secret}));
        ticket.set_phone_url(wire::phone_url({host, page_port, "", secret}, ticket.pilot()));
    });
}

v1::Answer InProcess::ask(const v1::Query& query) {
    return fit(service::answer(query, sheet_ ? &*sheet_ : nullptr));
}

v1::Answer InProcess::ask_long(const v1::Query& query, const Progress& progress) {
    return sheet_ ? fit(planning::plan(query, *sheet_, {progress})) : ask(query);
}

v1::Reply InProcess::send(const v1::Command&) {
    v1::Reply reply;
    *reply.mutable_refusal() = no_day();
    return reply;
}

v1::Refusal InProcess::watch(const Watcher&) {
    return no_day();
}

DayInProcess::DayInProcess(std::unique_ptr<service::Keeper> keeper, std::string as,
                           bool makes_tickets)
    : keeper_(std::move(keeper)), as_(std::move(as)), makes_tickets_(makes_tickets) {}

v1::Answer DayInProcess::ask(const v1::Query& query) {
    return fit(keeper_->answer(query, now_ms()));
}

v1::Answer DayInProcess::ask_long(const v1::Query& query, const Progress& progress) {
    auto answer = planning::plan(query, keeper_->state().sheet(), {progress});
    answer.set_version(keeper_->state().version());
    return fit(std::move(answer));
}

v1::Reply DayInProcess::send(const v1::Command& command) {
    if (command.has_renew_ticket() && !makes_tickets_) {
        v1::Reply reply;
        *reply.mutable_refusal() = no_address();
        return reply;
    }
    service::Ask ask;
    ask.command = command;
    // Whoever has the file is the marshal; --as only says on whose behalf.
    if (!as_.empty()) speak_for(as_, ask.command);
    return fit(keeper_->take(ask, now_ms()));
}

v1::Refusal DayInProcess::watch(const Watcher& watcher) {
    watcher.change(fit(keeper_->change({}, {})));
    return {};
}

bool has_begun(const std::string& day_file) {
    return service::has_begun(service::files_of(day_file));
}

std::unique_ptr<Link> open_day(const std::string& path, book::Problems& problems) {
    auto sheet = book::load_day(path, problems);
    if (!sheet) return nullptr;
    spdlog::debug("{}: {} pilots, {} relays, {} places", path, sheet->pilots_size(),
                  sheet->relays_size(), sheet->field().places_size());
    return std::make_unique<InProcess>(*std::move(sheet));
}

Result<std::unique_ptr<Link>> open_log(const std::string& path, log::DayLog::Access access,
                                       const std::string& as, std::vector<std::string>& differences,
                                       TicketWriter writer) {
    auto keeper = service::Keeper::open(service::files_of(path), access, local_ms(), differences);
    if (!keeper) return keeper.error();
    for (auto& text : differences) text = book::visible(text);
    if (writer) (*keeper)->write_ticket = writer;
    return std::unique_ptr<Link>(new DayInProcess(*std::move(keeper), as, writer != nullptr));
}

}  // namespace fieldpeg::link
