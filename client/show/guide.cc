#include "client/show/guide.h"

#include "client/show/table.h"

#include <algorithm>
#include <optional>
#include <regex>
#include <sstream>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr std::size_t widest = 100;  // longer lines are hard to read

/// Without the marks of emphasis, code and links.
std::string plain(const std::string& text) {
    static const std::regex link(R"(\[([^\]]*)\]\([^)]*\))");
    auto without = std::regex_replace(text, link, "$1");
    for (const auto* mark : {"**", "`"})
        for (auto at = without.find(mark); at != std::string::npos; at = without.find(mark, at))
            without.erase(at, std::string_view(mark).size());
    return without;
}

std::string trimmed(std::string text) {
    text.erase(0, text.find_first_not_of(' '));
    text.erase(text.find_last_not_of(' ') + 1);
    return text;
}

std::vector<std::string> cells_of(const std::string& row) {
    std::vector<std::string> cells;
    std::string cell;
    for (std::size_t i = 1; i < row.size(); ++i) {
        const bool is_quoted = row[i] == '|' && row[i - 1] == '\\';
        if (is_quoted) cell.pop_back();
        if (row[i] != '|' || is_quoted) {
            cell += row[i];
            continue;
        }
        cells.push_back(plain(trimmed(cell)));
        cell.clear();
    }
    return cells;
}

class Guide {
public:
    Guide(std::string_view markdown, const Look& look) : look_(look) {
        if (look_.width == 0 || look_.width > widest) look_.width = widest;
        std::istringstream lines{std::string(markdown)};
        for (std::string line; std::getline(lines, line);) take(line);
        end_block();
    }
    std::string text() const { return text_; }

private:
    void take(const std::string& line) {
        if (line.starts_with("```")) {
            end_block();
            is_code_ = !is_code_;
            if (!is_code_) text_ += '\n';
        } else if (is_code_) {
            text_ += "    " + line + '\n';
        } else if (line.empty()) {
            end_block();
        } else if (line.starts_with("#")) {
            end_block();
            text_ +=
                heading(plain(trimmed(line.substr(line.find_first_not_of('#')))), look_) + '\n';
        } else if (line.starts_with("|")) {
            if (rows_.empty()) end_block();
            rows_.push_back(line);
        } else if (const auto mark = mark_of(line); !mark.empty()) {
            end_block();
            mark_ = mark;
            block_ = trimmed(line.substr(mark.size()));
        } else {
            if (!rows_.empty()) end_block();
            block_ += (block_.empty() ? "" : " ") + trimmed(line);
        }
    }

    /// "- ", "  - " or "12. " where an item begins.
    static std::string mark_of(const std::string& line) {
        static const std::regex item(R"(^( *(?:-|[0-9]+\.) )[^ ].*)");
        std::smatch match;
        return std::regex_match(line, match, item) ? match[1].str() : "";
    }

    void end_block() {
        if (!rows_.empty()) end_table();
        if (block_.empty()) return;
        if (mark_.empty())
            for (const auto& line : wrapped(plain(block_), look_.width)) text_ += line + '\n';
        else
            text_ += item(mark_, plain(block_), look_);
        if (text_.back() != '\n') text_ += '\n';
        text_ += '\n';
        block_.clear();
        mark_.clear();
    }

    void end_table() {
        std::vector<Table::Column> columns;
        for (const auto& title : cells_of(rows_.front())) columns.push_back({title});
        Table table(columns);
        for (std::size_t i = 2; i < rows_.size(); ++i) {  // behind the line of dashes
            auto cells = cells_of(rows_[i]);
            cells.resize(columns.size());
            table.row(std::move(cells));
        }
        rows_.clear();
        text_ += table.text(look_) + '\n';
    }

    Look look_;
    std::string text_, block_, mark_;
    std::vector<std::string> rows_;
    bool is_code_ = false;
};

}  // namespace

std::string guide_text(std::string_view markdown, const Look& look) {
    return Guide(markdown, look).text();
}

}  // namespace fieldpeg::show
