#pragma once

#include "client/link/link.h"
#include "server/book/problem.h"

#include "fieldpeg/v1/day.pb.h"

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

private:
    std::optional<v1::DaySheet> sheet_;
};

/// A link to a day file; null if it cannot be read, with all that is wrong on the list.
std::unique_ptr<Link> open_day(const std::string& path, book::Problems& problems);

}  // namespace fieldpeg::link
