#include "client/show/course.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr double width = 1000;
constexpr double left = 110, right = 980, top = 70;
constexpr double row_height = 26, bar_height = 18;
constexpr double name_least = 40;  ///< bars narrower than this carry no name

std::string look_of(const std::string& kind) {
    if (kind == "on_air") return "on";
    if (kind == "sighting") return "seen";
    return kind == "bench" || kind == "down" ? kind : "held";
}

/// Rows by frequency, times across.
class Timeline {
public:
    Timeline(std::vector<Stretch> stretches, const v1::LogReply& log, std::int64_t from_ms,
             std::int64_t until_ms)
        : stretches_(std::move(stretches)),
          log_(log),
          from_ms_(from_ms),
          until_ms_(std::max(until_ms, from_ms + 60'000)) {
        for (const auto& s : stretches_) rows_[s.mhz].push_back(&s);
        for (auto& [mhz, row] : rows_) lanes_[mhz] = laid_out(row);
    }

    std::string picture(const std::string& day) const {
        double height = top + 60;
        for (const auto& [mhz, lanes] : lanes_) height += static_cast<double>(lanes) * row_height;
        const auto title = fmt::format("{}: who was on which frequency", day);
        Svg svg(width, height, title,
                fmt::format("From {} to {}.", clock_text(from_ms_), clock_text(until_ms_)));
        svg.text({left, 26}, title, "big");
        svg.text({left, 46},
                 "full: on the air; hatched: bench; open: held; crossed: down; dashed: "
                 "seen. Marks below: warnings.",
                 "small");
        hours(svg, height - 40);
        double y = top;
        for (const auto& [mhz, row] : rows_) {
            svg.text({left - 8, y + bar_height - 4}, day::mhz_text(mhz) + " MHz", "end");
            for (const auto* s : row) draw(svg, *s, y);
            y += static_cast<double>(lanes_.at(mhz)) * row_height;
            svg.line({left, y - 3}, {right, y - 3}, "grid");
        }
        for (const auto& e : log_.entries()) {
            if (e.kind() != "warning") continue;
            svg.open(fmt::format("{} {}", clock_text(e.at_ms()), e.text()));
            svg.line({x(e.at_ms()), y}, {x(e.at_ms()), y + 10}, "warning");
            svg.close();
        }
        return svg.str();
    }

private:
    double x(std::int64_t at_ms) const {
        const double share =
            static_cast<double>(at_ms - from_ms_) / static_cast<double>(until_ms_ - from_ms_);
        return left + (right - left) * std::clamp(share, 0.0, 1.0);
    }

    /// Lanes for those who were on one frequency at once; how many.
    std::size_t laid_out(std::vector<const Stretch*>& row) {
        std::ranges::stable_sort(row, {}, &Stretch::from_ms);
        std::vector<std::int64_t> ends;
        for (const auto* s : row) {
            std::size_t lane = 0;
            while (lane < ends.size() && ends[lane] > s->from_ms) ++lane;
            if (lane == ends.size()) ends.push_back(0);
            ends[lane] = s->to_ms;
            lane_[s] = lane;
        }
        return std::max<std::size_t>(ends.size(), 1);
    }

    void draw(Svg& svg, const Stretch& s, double y) const {
        const double from = x(s.from_ms), wide = std::max(x(s.to_ms) - from, 1.0);
        const double lane = y + static_cast<double>(lane_.at(&s)) * row_height;
        svg.open(fmt::format("{} {} at {}, {} to {}", s.who, words_of(s.kind),
                             day::power_text(s.power_dbm), clock_text(s.from_ms),
                             clock_text(s.to_ms)));
        svg.rect({from, lane}, wide, bar_height, look_of(s.kind));
        if (wide >= name_least)
            svg.text({from + 4, lane + bar_height - 5}, s.who,
                     s.kind == "on_air" ? "small bright" : "small");
        svg.close();
    }

    void hours(Svg& svg, double bottom) const {
        const std::int64_t all_ms = until_ms_ - from_ms_;
        std::int64_t step_ms = 60'000;
        for (const std::int64_t minutes : {5, 15, 30, 60, 120, 240, 720})
            if (all_ms / step_ms > 10) step_ms = minutes * 60'000;
        for (std::int64_t at = (from_ms_ / step_ms + 1) * step_ms; at < until_ms_; at += step_ms) {
            svg.line({x(at), top - 8}, {x(at), bottom}, "grid");
            svg.text({x(at), bottom + 16}, clock_text(at).substr(0, 5), "middle");
        }
    }

    std::vector<Stretch> stretches_;
    const v1::LogReply& log_;
    std::int64_t from_ms_, until_ms_;
    std::map<double, std::vector<const Stretch*>> rows_;
    std::map<double, std::size_t> lanes_;
    std::map<const Stretch*, std::size_t> lane_;
};

}  // namespace

std::string timeline_picture(const v1::BoardReply& first, const v1::LogReply& log,
                             std::int64_t until_ms) {
    return Timeline(stretches(first, log, until_ms), log, first.at_ms(), until_ms)
        .picture(first.day());
}

}  // namespace fieldpeg::show
