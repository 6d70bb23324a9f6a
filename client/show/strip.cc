#include "client/show/strip.h"

#include "server/day/spectrum_picture.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr std::size_t width_usual = 78, width_max = 110, width_min = 40;
constexpr double gap_mhz = 200;  ///< farther apart, it is another band
constexpr double beside_mhz = 15;
constexpr std::size_t name_lines_max = 6;

struct Mark {
    double mhz;
    std::string name;
    std::string sign;  ///< one column wide
    bool is_there = true;  ///< radiates: stands before one that only holds a channel
};

std::string sign_of(const v1::BoardRow& row) {
    if (row.is_sighting()) return "?";
    switch (row.stage()) {
        case v1::Claim::told_on:
        case v1::Claim::on_air:
            return "\u25B2";
        case v1::Claim::bench:
            return "\u25C7";
        case v1::Claim::down:
            return "x";
        default:
            return "\u25B3";
    }
}

/// A line that is filled at places, names measured in columns.
class Line {
public:
    explicit Line(std::size_t width) : cells_(width, " ") {}

    bool is_free(std::size_t at, std::size_t count) const {
        const auto from = at == 0 ? at : at - 1;
        for (auto i = from; i < std::min(at + count + 1, cells_.size()); ++i)
            if (cells_[i] != " ") return false;
        return true;
    }
    /// Requires room to its end.
    void put(std::size_t at, const std::string& text) {
        cells_[at] = text;
        for (std::size_t i = 1; i < columns(text); ++i) cells_[at + i].clear();
    }
    std::string text() const {
        std::string all = fmt::format("  {}", fmt::join(cells_, ""));
        all.erase(all.find_last_not_of(' ') + 1);
        return all + "\n";
    }

private:
    std::vector<std::string> cells_;
};

/// One band's part of the dial.
class Strip {
public:
    Strip(std::vector<Mark> marks, std::vector<double> products, std::size_t width)
        : marks_(std::move(marks)), products_(std::move(products)), width_(width) {
        low_mhz_ = std::floor((marks_.front().mhz - beside_mhz) / 10) * 10;
        high_mhz_ = std::ceil((marks_.back().mhz + beside_mhz) / 10) * 10;
    }

    std::string text() const {
        Line signs(width_), scale(width_), numbers(width_);
        for (const bool is_there : {false, true})
            for (const auto& m : marks_)
                if (m.is_there == is_there) signs.put(column(m.mhz), m.sign);
        const double step = step_mhz();
        for (std::size_t i = 0; i < width_; ++i) scale.put(i, "-");
        for (double f = std::ceil(low_mhz_ / step) * step; f <= high_mhz_; f += step) {
            scale.put(column(f), "+");
            const auto number = fmt::format("{:.0f}", f);
            const auto at = start(f, number.size());
            if (numbers.is_free(at, number.size())) numbers.put(at, number);
        }
        return names() + signs.text() + scale.text() + products() + numbers.text();
    }

private:
    std::size_t column(double mhz) const {
        const double share = (mhz - low_mhz_) / (high_mhz_ - low_mhz_);
        return static_cast<std::size_t>(
            std::clamp(std::lround(share * static_cast<double>(width_ - 1)), 0L,
                       static_cast<long>(width_ - 1)));
    }
    /// Where a text begins whose middle is at a frequency.
    std::size_t start(double mhz, std::size_t size) const {
        const auto at = column(mhz), half = size / 2;
        return std::min(at > half ? at - half : 0, width_ - std::min(size, width_));
    }
    double step_mhz() const {
        double step = 10;
        while ((high_mhz_ - low_mhz_) / step * 8 > static_cast<double>(width_)) step *= 2;
        return step;
    }

    /// As many lines as it takes for no name to touch another.
    std::string names() const {
        std::vector<Line> lines;
        auto first = marks_;
        std::stable_partition(first.begin(), first.end(), [](const Mark& m) { return m.is_there; });
        for (const auto& m : first) {
            const auto& name = m.name;
            if (columns(name) > width_) continue;
            const auto at = start(m.mhz, columns(name));
            auto line = std::ranges::find_if(
                lines, [&](const Line& l) { return l.is_free(at, columns(name)); });
            if (line == lines.end() && lines.size() == name_lines_max) continue;
            if (line == lines.end()) line = lines.insert(lines.end(), Line(width_));
            line->put(at, name);
        }
        std::ranges::reverse(lines);  // the first was the lowest
        std::string all;
        for (const Line& line : lines) all += line.text();
        return all;
    }

    std::string products() const {
        Line line(width_);
        bool has_any = false;
        for (const double f : products_) {
            if (f < low_mhz_ || f > high_mhz_) continue;
            line.put(column(f), "'");
            has_any = true;
        }
        return has_any ? line.text() : "";
    }

    std::vector<Mark> marks_;
    std::vector<double> products_;
    std::size_t width_;
    double low_mhz_, high_mhz_;
};

std::string strips(std::vector<Mark> marks, const std::vector<double>& products, const Look& look) {
    std::ranges::stable_sort(marks, {}, &Mark::mhz);
    const auto wide = look.width == 0 ? width_usual : look.width;
    const auto width = std::clamp(wide, width_min, width_max) - 3;
    std::string all;
    std::vector<Mark> band;
    const auto end_band = [&] {
        if (!band.empty()) all += Strip(std::exchange(band, {}), products, width).text();
    };
    for (auto& m : marks) {
        if (!band.empty() && m.mhz - band.back().mhz > gap_mhz) end_band();
        band.push_back(std::move(m));
    }
    end_band();
    return all;
}

}  // namespace

std::string board_strip(const v1::BoardReply& board, const Look& look) {
    std::vector<Mark> marks;
    for (const auto& row : board.rows())
        if (row.has_channel())
            marks.push_back({row.channel().mhz(), row.transmitter(), sign_of(row),
                             row.is_sighting() || day::radiates(row.stage())});
    if (marks.empty()) return "";
    return strips(std::move(marks), {}, look) +
           "  MHz; \u25B2 on the air  \u25B3 held  \u25C7 on the bench  x down  ? seen, unasked\n";
}

std::string check_strip(const v1::CheckReply& reply, const Look& look) {
    std::vector<Mark> marks;
    std::vector<double> products;
    std::set<std::pair<std::string, double>> known;
    for (const auto& r : reply.receivers()) {
        if (r.has_channel_mhz() && known.emplace(r.hears(), r.channel_mhz()).second)
            marks.push_back({r.channel_mhz(), r.hears(), "\u25B2"});
        for (const auto& c : r.contributions())
            if (c.has_product_mhz() && c.level_dbm() > r.noise_dbm() - day::shown_below_noise_db)
                products.push_back(c.product_mhz());
    }
    if (marks.empty()) return "";
    return strips(std::move(marks), products, look) +
           (products.empty() ? "  MHz\n" : "  MHz; ' a product that counts at a receiver\n");
}

std::string spectrum_strip(const v1::SpectrumPictureReply& reply, const Look& look) {
    std::vector<Mark> marks;
    std::vector<double> products;
    for (const auto& s : reply.signals())
        marks.push_back({s.channel().mhz(),
                         fmt::format("{} {:.0f} dBm", s.transmitter(), s.arriving_dbm()),
                         s.wanted() ? "\u25B2" : "\u25B3"});
    for (const auto& p : reply.products()) products.push_back(p.contribution().product_mhz());
    if (marks.empty()) return "";
    return strips(std::move(marks), products, look) +
           fmt::format("  MHz; \u25B2 to be heard by {}'s {}  \u25B3 others{}\n",
                       reply.result().owner(), reply.result().receiver(),
                       products.empty() ? "" : "  ' a product that counts there");
}

}  // namespace fieldpeg::show
