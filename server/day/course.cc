#include "server/day/course.h"

#include <algorithm>
#include <map>
#include <string>
#include <utility>

namespace fieldpeg::day {
namespace {

using Stretch = v1::TimelinePictureReply::Stretch;

Stretch begun(const std::string& who, const std::string& kind, double mhz, double power_dbm,
              std::int64_t from_ms, const std::string& by) {
    Stretch s;
    s.set_transmitter(who);
    s.set_kind(kind);
    s.set_mhz(mhz);
    s.set_power_dbm(power_dbm);
    s.set_from_ms(from_ms);
    s.set_by(by);
    return s;
}

std::string kind_of(const v1::BoardRow& row) {
    if (row.is_sighting()) return "sighting";
    switch (row.stage()) {
        case v1::Claim::bench:
            return "bench";
        case v1::Claim::told_on:
            return "told_on";
        case v1::Claim::on_air:
            return "on_air";
        case v1::Claim::down:
            return "down";
        default:
            return "claimed";
    }
}

/// Follows the log and keeps who was where.
class Course {
public:
    Course(const v1::BoardReply& first, std::int64_t until_ms) : until_ms_(until_ms) {
        for (const auto& row : first.rows())
            if (row.has_channel())
                open_[row.transmitter()] =
                    begun(row.transmitter(), kind_of(row), row.channel().mhz(), row.power_dbm(),
                          first.at_ms(), "");
    }

    void take(const v1::LogEntry& e) {
        const auto kind = e.kind() == "taken_back" ? std::string("claimed") : e.kind();
        const bool begins = kind == "claimed" || kind == "told_on" || kind == "on_air" || kind == "bench" ||
                            kind == "down" || kind == "off_air" || kind == "sighting";
        if (!begins && kind != "released" && kind != "sighting_gone" && kind != "removed") return;
        end(e.subject(), e.at_ms());
        if (begins && e.has_frequency_mhz())
            open_[e.subject()] =
                begun(e.subject(), kind, e.frequency_mhz(), e.power_dbm(), e.at_ms(), e.actor());
    }

    std::size_t on_air() const {
        return static_cast<std::size_t>(std::ranges::count_if(open_, [](const auto& one) {
            const auto& kind = one.second.kind();
            return kind == "on_air" || kind == "sighting";
        }));
    }

    std::vector<Stretch> stretches() {
        while (!open_.empty()) end(std::string(open_.begin()->first), until_ms_);
        return closed_;
    }

private:
    void end(const std::string& who, std::int64_t at_ms) {
        const auto found = open_.find(who);
        if (found == open_.end()) return;
        found->second.set_to_ms(std::max(at_ms, found->second.from_ms()));
        closed_.push_back(std::move(found->second));
        open_.erase(found);
    }

    std::int64_t until_ms_;
    std::map<std::string, Stretch> open_;
    std::vector<Stretch> closed_;
};

}  // namespace

std::vector<Stretch> stretches(const v1::BoardReply& first, const v1::LogReply& log,
                               std::int64_t until_ms) {
    Course course(first, until_ms);
    for (const auto& e : log.entries())
        if (e.version() > first.version()) course.take(e);
    return course.stretches();
}

Busiest busiest(const v1::BoardReply& first, const v1::LogReply& log) {
    Course course(first, 0);
    std::size_t most = course.on_air();
    Busiest found;
    if (most > 0) found = {first.version(), first.at_ms()};
    for (const auto& e : log.entries()) {
        if (e.version() <= first.version()) continue;
        course.take(e);
        if (course.on_air() <= most) continue;
        most = course.on_air();
        found = {e.version(), e.at_ms()};
    }
    return found;
}

}  // namespace fieldpeg::day
