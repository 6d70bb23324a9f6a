#include "client/link/in_process.h"

#include "client/link/understood.h"
#include "server/book/day_file.h"
#include "server/book/names.h"
#include "server/planning/plan.h"
#include "server/service/answer.h"

#include <spdlog/spdlog.h>

#include <filesystem>
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

}  // namespace

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

DayInProcess::DayInProcess(std::unique_ptr<service::Keeper> keeper, std::string as)
    : keeper_(std::move(keeper)), as_(std::move(as)) {}

v1::Answer DayInProcess::ask(const v1::Query& query) {
    return fit(keeper_->answer(query, now_ms()));
}

v1::Answer DayInProcess::ask_long(const v1::Query& query, const Progress& progress) {
    auto answer = planning::plan(query, keeper_->state().sheet(), {progress});
    answer.set_version(keeper_->state().version());
    return fit(std::move(answer));
}

v1::Reply DayInProcess::send(const v1::Command& command) {
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
    std::error_code none;
    return std::filesystem::exists(service::files_of(day_file).log, none);
}

std::unique_ptr<Link> open_day(const std::string& path, book::Problems& problems) {
    auto sheet = book::load_day(path, problems);
    if (!sheet) return nullptr;
    spdlog::debug("{}: {} pilots, {} relays, {} places", path, sheet->pilots_size(),
                  sheet->relays_size(), sheet->field().places_size());
    return std::make_unique<InProcess>(*std::move(sheet));
}

Result<std::unique_ptr<Link>> open_log(const std::string& path, log::DayLog::Access access,
                                       const std::string& as,
                                       std::vector<std::string>& differences) {
    auto keeper = service::Keeper::open(service::files_of(path), access, local_ms(), differences);
    if (!keeper) return keeper.error();
    for (auto& text : differences) text = book::visible(text);
    return std::unique_ptr<Link>(new DayInProcess(*std::move(keeper), as));
}

}  // namespace fieldpeg::link
