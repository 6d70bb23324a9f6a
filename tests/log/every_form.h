#pragma once

#include "server/log/day_log.h"

#include <gtest/gtest.h>

#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::testing {

/// A form in which a day's log is kept, with one day of its own, not begun.
class LogForm {
public:
    virtual ~LogForm() = default;
    virtual std::string place() const = 0;
    /// What the log itself would never do.
    virtual void tamper(const std::string& sql) = 0;
    /// Bytes as its SQL has them.
    virtual std::string literal(std::string_view bytes) const = 0;
};

using MakeLogForm = std::unique_ptr<LogForm> (*)();

/// One suite for every form (every_form_test.cc).
class EveryLog : public ::testing::TestWithParam<MakeLogForm> {
protected:
    std::unique_ptr<log::DayLog> opened(
        log::DayLog::Access access = log::DayLog::Access::write) const;
    /// A log of so many entries, in one batch each.
    void make(std::uint64_t entries) const;
    std::optional<log::Fault> fault() const;

    const std::unique_ptr<LogForm> form_ = GetParam()();
};

}  // namespace fieldpeg::testing
