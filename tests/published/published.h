#pragma once

#include <charconv>
#include <cstddef>
#include <fstream>
#include <limits>
#include <sstream>
#include <stdexcept>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

/// Tables of values from outside the project. Lines that start with '#' say whence they are and how
/// sure; the first other line names the columns.
namespace fieldpeg::testing {

/// One row, which knows where it stands, so that a failure can name it.
class PublishedRow {
public:
    PublishedRow(std::string where, std::vector<std::string> columns,
                 std::vector<std::string> cells)
        : where_(std::move(where)), columns_(std::move(columns)), cells_(std::move(cells)) {}

    const std::string& where() const { return where_; }

    const std::string& text(std::string_view column) const {
        for (std::size_t i = 0; i < columns_.size(); ++i)
            if (columns_[i] == column) return cells_[i];
        throw std::logic_error(where_ + ": no column " + std::string(column));
    }
    bool has(std::string_view column) const { return !text(column).empty(); }
    double number(std::string_view column) const {
        const auto& cell = text(column);
        return cell == "infinite" ? std::numeric_limits<double>::infinity() : as_number(cell);
    }
    /// A cell that holds several numbers, with blanks between them.
    std::vector<double> numbers(std::string_view column) const {
        std::istringstream words(text(column));
        std::vector<double> all;
        for (std::string word; words >> word;) all.push_back(as_number(word));
        return all;
    }

private:
    double as_number(const std::string& word) const {
        double value = 0;
        const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), value);
        if (error != std::errc{} || end != word.data() + word.size())
            throw std::logic_error(where_ + ": not a number: " + word);
        return value;
    }

    std::string where_;
    std::vector<std::string> columns_;
    std::vector<std::string> cells_;
};

/// The rows of data/`name`. Throws if there are none, so that no test passes on an empty table.
inline std::vector<PublishedRow> published(const std::string& name) {
    const auto cells_of = [](const std::string& line) {
        std::vector<std::string> cells{""};
        for (const char c : line) {
            if (c == ',')
                cells.emplace_back();
            else if (c != ' ' || !cells.back().empty())
                cells.back() += c;
        }
        return cells;
    };
    std::ifstream file(FIELDPEG_SOURCE_DIR "/tests/published/data/" + name);
    std::vector<PublishedRow> rows;
    std::vector<std::string> columns;
    std::string line;
    for (int number = 1; std::getline(file, line); ++number) {
        if (line.empty() || line.front() == '#') continue;
        auto cells = cells_of(line);
        const auto where = name + ":" + std::to_string(number);
        if (columns.empty())
            columns = std::move(cells);
        else if (cells.size() == columns.size())
            rows.emplace_back(where, columns, std::move(cells));
        else
            throw std::logic_error(where + ": not as many cells as columns");
    }
    if (rows.empty()) throw std::logic_error("no rows in " + name);
    return rows;
}

}  // namespace fieldpeg::testing
