#pragma once

#include "fieldpeg/v1/query.pb.h"

namespace fieldpeg::link {

/// Where a verb's questions go: to a service in this process, or to one elsewhere.
class Link {
public:
    virtual ~Link() = default;

    /// The answer, a refusal included.
    virtual v1::Answer ask(const v1::Query& query) = 0;
};

}  // namespace fieldpeg::link
