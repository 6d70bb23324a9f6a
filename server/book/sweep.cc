#include "server/book/sweep.h"

#include "server/book/names.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>
#include <vector>

namespace fieldpeg::book {
namespace {

constexpr std::size_t points_min = 10;
constexpr double hole_steps = 5;  ///< a gap of more steps than that is a hole

std::string lower(std::string_view text) {
    std::string all(text);
    std::ranges::transform(all, all.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return all;
}

std::string_view trimmed(std::string_view text) {
    const auto is_space = [](char c) { return c == ' ' || c == '\t' || c == '\r' || c == '"'; };
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_space(text.back())) text.remove_suffix(1);
    return text;
}

/// Not on behind one more than there may be.
std::vector<std::string_view> split(std::string_view line, char at) {
    std::vector<std::string_view> cells;
    while (true) {
        const auto end = line.find(at);
        cells.push_back(trimmed(line.substr(0, end)));
        if (end == std::string_view::npos || cells.size() > sweep_columns_max) return cells;
        line.remove_prefix(end + 1);
    }
}

/// A number that is the whole of a text.
std::optional<double> number_of(std::string_view text, bool decimal_comma) {
    if (text.starts_with('+')) text.remove_prefix(1);
    std::string written(text);
    if (decimal_comma) std::ranges::replace(written, ',', '.');
    double value = 0;
    const auto* const end = written.data() + written.size();
    const auto [stopped, error] = std::from_chars(written.data(), end, value);
    if (error != std::errc{} || stopped != end || !std::isfinite(value)) return std::nullopt;
    return value;
}

/// How many MHz a header's unit is; none: it names none.
std::optional<double> unit_mhz(const std::string& head) {
    for (const auto& [unit, mhz] :
         {std::pair{"ghz", 1e3}, std::pair{"mhz", 1.0}, std::pair{"khz", 1e-3}})
        if (head.find(unit) != std::string::npos) return mhz;
    return head.find("hz") != std::string::npos ? std::optional(1e-6) : std::nullopt;
}

struct Columns {
    char separator = ',';
    std::size_t frequency = 0, level = 0;
    double mhz = 1;
};

/// Reads one file line by line.
class SweepReader {
public:
    SweepReader(const std::string& file, Problems& problems) : file_(file), problems_(problems) {}

    std::optional<v1::Sweep> read(std::string_view text) {
        if (text.size() > sweep_bytes_max) {
            wrong("", fmt::format("is {} bytes long", text.size()),
                  fmt::format("at most {}: fewer points, or one band", sweep_bytes_max));
            return std::nullopt;
        }
        constexpr std::string_view byte_order_mark = "\xef\xbb\xbf";
        if (text.starts_with(byte_order_mark)) text.remove_prefix(byte_order_mark.size());
        while (!text.empty() && is_sound_) {
            const auto end = text.find('\n');
            take(trimmed_end(text.substr(0, end)));
            text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
        }
        return is_sound_ ? put_together() : std::nullopt;
    }

private:
    static std::string_view trimmed_end(std::string_view line) {
        while (!line.empty() && (line.back() == '\r' || line.back() == ' ')) line.remove_suffix(1);
        return line;
    }

    void wrong(std::string key, std::string what, std::string expected, bool is_of_line = true) {
        problems_.push_back({file_, is_of_line ? line_ : 0, std::move(key), std::move(what),
                             std::move(expected), ""});
        is_sound_ = false;
    }

    void take(std::string_view line) {
        if (++line_ > sweep_lines_max)
            return wrong("", fmt::format("has more than {} lines", sweep_lines_max),
                         "fewer points, or one band", false);
        if (trimmed(line).empty()) return;
        if (line.front() == '#') return remark(lower(line));
        if (!columns_) return header(line);
        point(line);
    }

    void too_wide() {
        wrong("", fmt::format("has more than {} columns", sweep_columns_max),
              "a frequency and a level");
    }

    void remark(const std::string& line) {
        const auto at = line.find("resolution_khz");
        const auto equals = line.find('=');
        if (at == std::string::npos || equals == std::string::npos) return;
        const auto khz = number_of(trimmed(std::string_view(line).substr(equals + 1)), true);
        if (!khz || *khz < sweep_resolution_mhz_min * 1000 ||
            *khz > sweep_resolution_mhz_max * 1000)
            return wrong("resolution_khz", "is no resolution",
                         fmt::format("a number, {} to {} kHz", sweep_resolution_mhz_min * 1000,
                                     sweep_resolution_mhz_max * 1000));
        resolution_mhz_ = *khz / 1000;
    }

    void header(std::string_view line) {
        Columns columns;
        for (const char separator : {'\t', ';', ','})
            if (line.find(separator) != std::string_view::npos) {
                columns.separator = separator;
                break;
            }
        const auto heads = split(line, columns.separator);
        if (heads.size() > sweep_columns_max) return too_wide();
        std::optional<std::size_t> frequency, level;
        for (std::size_t i = 0; i < heads.size(); ++i) {
            const auto head = lower(heads[i]);
            if (!frequency && head.find("freq") != std::string::npos) frequency = i;
            if (!level && head.find("dbm") != std::string::npos) level = i;
        }
        if (!frequency || !level)
            return wrong("", fmt::format("'{}' is no header of a sweep", printable(line)),
                         "a column of frequencies and one of levels with their units: "
                         "frequency_mhz,level_dbm");
        const auto mhz = unit_mhz(lower(heads[*frequency]));
        if (!mhz)
            return wrong("", fmt::format("'{}' names no unit", printable(heads[*frequency])),
                         "frequency_mhz, or Hz, kHz, GHz");
        columns.frequency = *frequency;
        columns.level = *level;
        columns.mhz = *mhz;
        columns_ = columns;
    }

    void point(std::string_view line) {
        const auto cells = split(line, columns_->separator);
        if (cells.size() > sweep_columns_max) return too_wide();
        if (cells.size() <= std::max(columns_->frequency, columns_->level))
            return wrong("", fmt::format("'{}' has too few columns", printable(line)),
                         "a frequency and a level");
        const bool decimal_comma = columns_->separator != ',';
        const auto frequency = number_of(cells[columns_->frequency], decimal_comma);
        const auto level = number_of(cells[columns_->level], decimal_comma);
        if (!frequency || !level)
            return wrong("", fmt::format("'{}' is no line of numbers", printable(line)),
                         "a frequency and a level");
        const double mhz = *frequency * columns_->mhz;
        if (!(mhz >= sweep_mhz_min && mhz <= sweep_mhz_max))
            return wrong("", fmt::format("{} MHz is no frequency of a sweep", mhz),
                         fmt::format("{} to {} MHz; is the unit in the header right?",
                                     sweep_mhz_min, sweep_mhz_max));
        if (!(*level >= -200 && *level <= 60))
            return wrong("", fmt::format("{} dBm is no level", *level), "-200 to 60 dBm");
        if (!points_.empty() && mhz <= points_.back().first)
            return wrong("", fmt::format("{} MHz comes after {} MHz", mhz, points_.back().first),
                         "rising frequencies");
        points_.emplace_back(mhz, *level);
    }

    /// Even steps, the greatest level in each.
    std::optional<v1::Sweep> put_together() {
        line_ = 0;
        if (!columns_ || points_.size() < points_min) {
            wrong("", fmt::format("has {} points", points_.size()),
                  fmt::format("a header and at least {} lines", points_min), false);
            return std::nullopt;
        }
        std::vector<double> gaps;
        gaps.reserve(points_.size());
        for (std::size_t i = 1; i < points_.size(); ++i)
            gaps.push_back(points_[i].first - points_[i - 1].first);
        auto sorted = gaps;
        std::ranges::nth_element(sorted,
                                 sorted.begin() + static_cast<std::ptrdiff_t>(gaps.size() / 2));
        const double usual = sorted[gaps.size() / 2];
        for (std::size_t i = 0; i < gaps.size(); ++i)
            if (gaps[i] > hole_steps * usual) {
                wrong("",
                      fmt::format("nothing was measured between {:.6g} and {:.6g} MHz",
                                  points_[i].first, points_[i + 1].first),
                      "one stretch without a hole: enter each band by itself", false);
                return std::nullopt;
            }
        const double low = points_.front().first, span = points_.back().first - low;
        const auto steps = std::min<std::size_t>(
            sweep_steps_max, static_cast<std::size_t>(std::round(span / usual)) + 1);
        const double step = steps > 1 ? span / static_cast<double>(steps - 1) : usual;
        if (!(step >= sweep_step_mhz_min && step <= sweep_step_mhz_max)) {
            wrong("", fmt::format("has a line every {:.6g} MHz", step),
                  fmt::format("one every {} to {} MHz", sweep_step_mhz_min, sweep_step_mhz_max),
                  false);
            return std::nullopt;
        }
        v1::Sweep sweep;
        sweep.set_start_mhz(low);
        sweep.set_step_mhz(step);
        sweep.set_resolution_mhz(resolution_mhz_.value_or(usual));
        constexpr double nothing = -250;
        std::vector<double> levels(steps, nothing);
        for (const auto& [mhz, dbm] : points_) {
            auto& at = levels[std::min(steps - 1,
                                       static_cast<std::size_t>(std::round((mhz - low) / step)))];
            at = std::max(at, dbm);
        }
        for (std::size_t i = 0; i < steps; ++i) {  // a step that fell between two points
            if (levels[i] == nothing && i > 0) levels[i] = levels[i - 1];
            sweep.add_level_dbm(static_cast<float>(levels[i]));
        }
        return sweep;
    }

    const std::string& file_;
    Problems& problems_;
    bool is_sound_ = true;
    unsigned line_ = 0;
    std::optional<Columns> columns_;
    std::optional<double> resolution_mhz_;
    std::vector<std::pair<double, double>> points_;
};

}  // namespace

std::optional<v1::Sweep> read_sweep(std::string_view text, const std::string& file,
                                    Problems& problems) {
    return SweepReader(file, problems).read(text);
}

}  // namespace fieldpeg::book
