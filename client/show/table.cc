#include "client/show/table.h"

#include "server/day/phrases.h"

#include <fmt/format.h>
#include <boost/assert.hpp>

#include <algorithm>
#include <cmath>
#include <sstream>

namespace fieldpeg::show {
namespace {

constexpr std::size_t last_column_min = 20;

std::string padded(const std::string& text, std::size_t width, Table::Align align) {
    const std::size_t used = columns(text);
    const std::string space(used < width ? width - used : 0, ' ');
    return align == Table::Align::left ? text + space : space + text;
}

}  // namespace

std::vector<std::string> wrapped(const std::string& text, std::size_t width) {
    if (width == 0 || columns(text) <= width) return {text};
    std::vector<std::string> lines;
    std::istringstream words(text);
    std::string line, word;
    while (words >> word) {
        if (!line.empty() && columns(line) + 1 + columns(word) > width) {
            lines.push_back(std::move(line));
            line.clear();
        }
        line += (line.empty() ? "" : " ") + word;
    }
    lines.push_back(std::move(line));
    return lines;
}

std::string item(const std::string& mark, const std::string& text, const Look& look) {
    const std::size_t used = columns(mark);
    std::string all;
    for (const auto& line :
         wrapped(text, look.width > used + last_column_min ? look.width - used : 0))
        all += (all.empty() ? mark : std::string(used, ' ')) + line + "\n";
    return all;
}

namespace {

using Remarks = google::protobuf::RepeatedPtrField<v1::Remark>;

/// A remark begins with the channel that it is about, and goes on with what several may share.
struct Said {
    explicit Said(const v1::Remark& remark)
        : who(remark.transmitter()), text(remark.text()), source(remark.source()), what(text) {
        const auto band = text.find(": ");
        if (band == text.npos) return;
        what = text.substr(band + 2);
        channel = text.substr(0, text.find_first_of(" ,:"));
    }

    std::string who, text, source, what, channel;
};

/// Whose remark it is; where several share it, each with the channel.
std::string concerned(const std::vector<Said>& shared) {
    const auto& first = shared.front();
    if (shared.size() == 1) return (first.who.empty() ? "" : first.who + ": ") + first.text;
    std::vector<std::string> names;
    names.reserve(shared.size());
    for (const auto& one : shared)
        names.push_back(one.channel.empty() ? one.who
                                            : fmt::format("{} on {}", one.who, one.channel));
    return fmt::format("{}: {}", day::names_text(names), first.what);
}

/// In the order of the first of each.
std::vector<std::vector<Said>> shared(const Remarks& remarks) {
    std::vector<std::vector<Said>> groups;
    for (const auto& remark : remarks) {
        Said said(remark);
        const auto same = std::ranges::find_if(groups, [&](const auto& group) {
            return !said.who.empty() && group.front().what == said.what &&
                   group.front().source == said.source;
        });
        if (same == groups.end())
            groups.push_back({std::move(said)});
        else
            same->push_back(std::move(said));
    }
    return groups;
}

}  // namespace

std::string remarks_text(const Remarks& remarks, const Look& look) {
    std::vector<std::string> sources;
    std::string all, below;
    for (const auto& group : shared(remarks)) {
        const auto& source = group.front().source;
        const auto at = std::ranges::find(sources, source);
        const auto mark = fmt::format("[{}]", at - sources.begin() + 1);
        if (at == sources.end()) {
            sources.push_back(source);
            below += item(fmt::format("  {} ", mark), source, look);
        }
        all += item("  ", fmt::format("{} {}", concerned(group), mark), look);
    }
    return all + below;
}

void Table::row(std::vector<std::string> cells) {
    BOOST_ASSERT(cells.size() == columns_.size());
    rows_.push_back(std::move(cells));
}

std::string Table::text(const Look& look) const {
    std::vector<std::size_t> widths;
    std::size_t before_last = 0;
    for (std::size_t c = 0; c < columns_.size(); ++c) {
        std::size_t width = columns(columns_[c].title);
        for (const auto& cells : rows_) width = std::max(width, columns(cells[c]));
        widths.push_back(width);
        if (c + 1 < columns_.size()) before_last += width + 2;
    }
    const bool wraps = look.width > before_last + last_column_min;
    const std::size_t room = wraps ? look.width - before_last : 0;

    std::string all;
    const auto add = [&](const std::vector<std::string>& cells) {
        std::string line;
        for (std::size_t c = 0; c + 1 < cells.size(); ++c)
            line += padded(cells[c], widths[c], columns_[c].align) + "  ";
        const auto last = wrapped(cells.back(), room);
        line += columns_.back().align == Align::right ? padded(last[0], widths.back(), Align::right)
                                                      : last[0];
        line.erase(line.find_last_not_of(' ') + 1);
        all += line + "\n";
        for (std::size_t i = 1; i < last.size(); ++i)
            all += std::string(before_last, ' ') + last[i] + "\n";
    };
    std::vector<std::string> titles;
    for (const auto& column : columns_) titles.push_back(column.title);
    add(titles);
    for (const auto& cells : rows_) add(cells);
    return all;
}

std::string csv_field(const std::string& field) {
    if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
    std::string out = "\"";
    for (const char c : field) {
        if (c == '"') out += '"';
        out += c;
    }
    return out + "\"";
}

std::string csv_mw(double power_dbm) {
    const double mw = std::pow(10, power_dbm / 10);
    const double step = std::pow(10, std::floor(std::log10(mw)) - 2);
    return fmt::format("{:.10g}", std::round(mw / step) * step);
}

}  // namespace fieldpeg::show
