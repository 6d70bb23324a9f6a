#pragma once

#include "tests/log/every_form.h"

#include <memory>
#include <string>

namespace fieldpeg::testing {

/// A day in a database of its own.
class PostgresForm final : public LogForm {
public:
    PostgresForm();
    std::string place() const override { return address_ + "#saturday"; }
    void tamper(const std::string& sql) override;
    std::string literal(std::string_view bytes) const override;

private:
    std::string address_;
};

}  // namespace fieldpeg::testing
