#pragma once

#include "client/link/link.h"
#include "client/link/retry.h"
#include "server/wire/ticket.h"

#include "fieldpeg/v1/membership.pb.h"

#include <memory>
#include <string>

namespace fieldpeg::link {

class Line;

/// A service elsewhere, over TLS. Connects when first needed, and again when the connection is
/// lost; what was asked meanwhile is asked again under the same name, and done once (retry.h).
class Remote : public Link {
public:
    explicit Remote(v1::Membership membership, Patience patience = {});
    ~Remote() override;

    v1::Answer ask(const v1::Query& query) override;
    v1::Answer ask_long(const v1::Query& query, const Progress& progress) override;
    v1::Reply send(const v1::Command& command) override;
    v1::Refusal watch(const Watcher& watcher) override;
    std::int64_t now_ms() const override;
    std::string self() const override;

    /// What is now known of the server: another address, a later witness.
    const v1::Membership& membership() const;

private:
    std::unique_ptr<Line> line_;
};

/// Joins with a ticket under a name. The key is made here and kept by the caller.
Result<v1::Membership> join(const wire::Ticket& ticket, const std::string& name,
                            Patience patience = {});

}  // namespace fieldpeg::link
