#include "server/day/timeline_picture.h"

#include "server/day/course.h"
#include "server/day/label_layout.h"
#include "server/day/paper.h"
#include "server/day/text_width.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <span>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

using Reply = v1::TimelinePictureReply;

constexpr std::int64_t minute_ms = 60'000;
constexpr double left_share = 0.11, right_share = 0.98;  ///< of the width: the scale's ends
constexpr double name_share = 0.5;  ///< of the scale: a longer name is a number, and in the key

/// One after the other on one frequency, by the same transmitter: they share a name. Stretches by
/// their place in the list.
using Run = std::vector<int>;

/// Those of one frequency, in the order of their beginnings.
std::vector<Run> runs(const Reply& reply, Run row) {
    std::ranges::stable_sort(row, {}, [&](int i) { return reply.stretches(i).from_ms(); });
    std::vector<Run> all;
    for (const int i : row) {
        const auto& s = reply.stretches(i);
        const auto before = std::ranges::find_if(all, [&](const Run& r) {
            const auto& last = reply.stretches(r.back());
            return last.transmitter() == s.transmitter() && last.to_ms() == s.from_ms();
        });
        if (before == all.end())
            all.push_back({i});
        else
            before->push_back(i);
    }
    return all;
}

/// Lays it out on paper, rows from the top downwards. Over the bars of each run stands its name,
/// and both together keep clear of all others.
class TimelineOnPaper {
public:
    TimelineOnPaper(Reply& reply, const Paper& paper)
        : r_(reply), paper_(paper), type_(paper.type) {
        for (int i = 0; i < r_.stretches_size(); ++i) rows_[r_.stretches(i).mhz()].push_back(i);
        double widest = left_share * paper.width - 0.75 * type_.size;
        for (const auto& [mhz, row] : rows_) widest = std::max(widest, width(row_text(mhz)));
        left_ = widest + 0.75 * type_.size;
        right_ = right_share * paper.width;
    }

    void lay_out() {
        *r_.mutable_paper() = message(paper_);
        top_ = type_.size / 4;
        double y = top_;
        for (const auto& [mhz, row] : rows_) y = put_row(mhz, row, y);
        *r_.mutable_frame() = message(Rect{left_, top_, right_ - left_, y - top_});
        for (auto& w : *r_.mutable_warnings()) {
            const double x = this->x(w.at_ms());
            *w.mutable_mark() = message(Segment{{x, y + 2}, {x, y + 2 + type_.size * 0.6}});
        }
        y = put_ticks(y + type_.size);
        r_.set_height(centi(put_key(y)));
    }

private:
    double width(const std::string& text) const { return text_width(text, type_.size); }
    static std::string row_text(double mhz) { return mhz_text(mhz) + " MHz"; }
    double x(std::int64_t at_ms) const {
        const double share = static_cast<double>(at_ms - r_.from_ms()) /
                             static_cast<double>(r_.until_ms() - r_.from_ms());
        return left_ + (right_ - left_) * std::clamp(share, 0.0, 1.0);
    }
    const std::string& who(const Run& run) const { return r_.stretches(run.front()).transmitter(); }
    double bar_height() const { return 0.9 * type_.size; }
    double lane_height() const { return type_.line() + bar_height() + type_.size / 4; }

    /// The name, or the number that stands for it.
    std::string name(const std::string& who) {
        if (width(who) <= name_share * (right_ - left_)) return who;
        return std::to_string(numbers_.try_emplace(who, numbers_.size() + 1).first->second);
    }

    /// One frequency. Where it ends.
    double put_row(double mhz, const Run& stretches, double top) {
        const auto at = static_cast<std::uint32_t>(r_.rows_size());
        std::vector<double> ends;  // of the lanes, from the top
        for (const auto& run : runs(r_, stretches)) {
            const auto text = name(who(run));
            const double from = x(r_.stretches(run.front()).from_ms()), wide = width(text);
            const double name_left = std::max(std::min(from, right_ - wide), left_);
            const double begin = std::min(from, name_left);
            auto lane = static_cast<std::size_t>(
                std::ranges::find_if(ends, [&](double end) { return end <= begin; }) -
                ends.begin());
            if (lane == ends.size()) ends.push_back(0);
            ends[lane] =
                std::max(x(r_.stretches(run.back()).to_ms()), name_left + wide) + type_.size / 2;
            put_run(run, text, {name_left, top + static_cast<double>(lane) * lane_height()});
        }
        const double height = static_cast<double>(ends.size()) * lane_height();
        auto& row = *r_.add_rows();
        row.set_mhz(milli(mhz));
        *row.mutable_box() = message(Rect{left_, top, right_ - left_, height});
        const auto text = row_text(mhz);
        auto box = type_.box({0, top + type_.line() / 2}, std::span(&text, 1));
        box.left = left_ - type_.size / 2 - box.width;
        auto& m = *r_.add_labels() = label(v1::Label::row, text, box, v1::Label::end);
        m.add_of(at);
        return top + height;
    }

    void put_run(const Run& run, const std::string& text, Spot name_at) {
        const double top = name_at.y + type_.line();
        for (const int i : run) {
            auto& s = *r_.mutable_stretches(i);
            const double from = x(s.from_ms());
            *s.mutable_box() =
                message(Rect{from, top, std::max(x(s.to_ms()) - from, 1.0), bar_height()});
        }
        auto& m = *r_.add_labels() =
            label(v1::Label::transmitter, text, type_.box(name_at, std::span(&text, 1)),
                  v1::Label::start);
        for (const int i : run) m.add_of(static_cast<std::uint32_t>(i));
        const auto number = numbers_.find(who(run));
        if (number != numbers_.end()) m.set_number(static_cast<std::uint32_t>(number->second));
    }

    /// Times as far apart as their texts need. Where they end.
    double put_ticks(double top) {
        const double wide = text_width("00:00", type_.size);
        const double per_ms = (right_ - left_) / static_cast<double>(r_.until_ms() - r_.from_ms());
        std::int64_t step_ms = minute_ms;
        for (const std::int64_t minutes : {2, 5, 10, 15, 30, 60, 120, 240, 720, 1440})
            if (static_cast<double>(step_ms) * per_ms < wide + type_.size)
                step_ms = minutes * minute_ms;
        while (static_cast<double>(step_ms) * per_ms < wide + type_.size) step_ms *= 2;
        for (std::int64_t at = (r_.from_ms() / step_ms + 1) * step_ms; at < r_.until_ms();
             at += step_ms) {
            auto& t = *r_.add_ticks();
            t.set_at_ms(at);
            t.set_x(centi(x(at)));
            const double left = std::min(x(at) - wide / 2, paper_.width - wide);
            *t.mutable_box() = message(Rect{left, top, wide, type_.line()});
        }
        return top + type_.line();
    }

    /// Where it ends.
    double put_key(double bottom) {
        std::vector<Mark> marks(numbers_.size());
        std::vector<Naming> names(numbers_.size());
        for (const auto& [who, number] : numbers_) {
            marks[number - 1].lines = {who};
            names[number - 1] = {{number - 1}, number, {}};
        }
        const double top = bottom + type_.line() / 2;
        const auto entries =
            key(names, marks, {type_.size / 2, top}, paper_.width - type_.size, type_);
        for (const auto& n : entries) {
            auto& m = *r_.add_labels() = message(n, v1::Label::transmitter);
            m.clear_of();
            m.set_in_key(true);
        }
        return entries.empty() ? bottom : bottom_of(entries, top);
    }

    Reply& r_;
    Paper paper_;
    Type type_;
    double left_ = 0, right_ = 0, top_ = 0;
    std::map<double, Run> rows_;  ///< by frequency
    std::map<std::string, std::size_t> numbers_;
};

}  // namespace

v1::TimelinePictureReply timeline_picture(const v1::BoardReply& first, const v1::LogReply& log,
                                          const v1::TimelinePictureQuery& query) {
    Reply reply;
    reply.set_day(first.day());
    reply.set_from_ms(first.at_ms());
    const auto until_ms = std::min(query.until_ms(), first.at_ms() + timeline_longest_ms);
    reply.set_until_ms(std::max(until_ms, first.at_ms() + minute_ms));
    for (auto& s : stretches(first, log, until_ms)) *reply.add_stretches() = std::move(s);
    for (const auto& e : log.entries()) {
        if (e.kind() != "warning") continue;
        auto& w = *reply.add_warnings();
        w.set_at_ms(e.at_ms());
        w.set_subject(e.subject());
        w.set_text(e.text());
    }
    const auto most = busiest(first, log);
    reply.set_busiest_version(most.version);
    reply.set_busiest_ms(most.at_ms);
    TimelineOnPaper(reply, paper(query.paper())).lay_out();
    return reply;
}

}  // namespace fieldpeg::day
