#pragma once

#include "server/refusal/refusal.h"

#include "fieldpeg/v1/command.pb.h"
#include "fieldpeg/v1/query.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <cstdint>
#include <functional>
#include <string>

namespace fieldpeg::link {

/// This machine's clock, UTC.
std::int64_t local_ms();

/// Where a verb's questions and commands go: to a service in this process, or to one elsewhere.
class Link {
public:
    virtual ~Link() = default;

    /// The answer, a refusal included. Of kind `no_answer`: there was none.
    virtual v1::Answer ask(const v1::Query& query) = 0;
    /// The same for what takes long: told now and then how far it is. False: enough, answer with
    /// what there is.
    using Progress = std::function<bool(const v1::Progress&)>;
    virtual v1::Answer ask_long(const v1::Query& query, const Progress& progress) = 0;
    /// The same as ask() for what changes the day. However often it has to be sent, it is done
    /// once.
    virtual v1::Reply send(const v1::Command& command) = 0;

    struct Watcher {
        /// Everything as it is, at once and after each change. False: enough.
        std::function<bool(const v1::Change&)> change;
        /// The connection is lost, and will be tried again.
        std::function<void(const v1::Refusal&)> lost;
        /// However often a server lets somebody in and shows them nothing. False: twice is enough.
        bool is_patient = true;
    };
    /// Until the watcher has enough; a refusal if it cannot go on.
    virtual v1::Refusal watch(const Watcher& watcher) = 0;

    /// The service's clock, UTC: that of the log.
    virtual std::int64_t now_ms() const { return local_ms(); }
    /// Who speaks: a pilot's or marshal's name, for what is said of oneself.
    virtual std::string self() const { return ""; }
};

}  // namespace fieldpeg::link
