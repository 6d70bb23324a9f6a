#pragma once

#include "client/show/look.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <string>
#include <vector>

namespace fieldpeg::show {

/// Columns of text under headings, two spaces apart. The last column is wrapped to the width.
class Table {
public:
    enum class Align { left, right };
    struct Column {
        std::string title;
        Align align = Align::left;
    };

    explicit Table(std::vector<Column> columns) : columns_(std::move(columns)) {}

    /// Requires as many cells as columns.
    void row(std::vector<std::string> cells);
    bool empty() const { return rows_.empty(); }
    std::string text(const Look& look) const;

private:
    std::vector<Column> columns_;
    std::vector<std::vector<std::string>> rows_;
};

/// A text broken at spaces into lines of at most `width` columns; 0: one line.
std::vector<std::string> wrapped(const std::string& text, std::size_t width);

/// Remarks, a line each, those that several share with their names; sources are numbered and named
/// once below. Empty if there are none.
std::string remarks_text(const google::protobuf::RepeatedPtrField<v1::Remark>& remarks,
                         const Look& look);

/// A field of comma-separated values, quoted where it must be [RFC4180].
std::string csv_field(const std::string& field);
/// A power in mW as such a field, three digits of it: "25", "0.1", "1200".
std::string csv_mw(double power_dbm);

/// A text after a mark, later lines indented under the first.
std::string item(const std::string& mark, const std::string& text, const Look& look);

}  // namespace fieldpeg::show
