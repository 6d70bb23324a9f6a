#include "client/show/course.h"

#include <algorithm>
#include <map>

namespace fieldpeg::show {
namespace {

std::string kind_of(const v1::BoardRow& row) {
    if (row.is_sighting()) return "sighting";
    switch (row.stage()) {
        case v1::Claim::bench:
            return "bench";
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
                open_[row.transmitter()] = {row.transmitter(),
                                            kind_of(row),
                                            row.channel().mhz(),
                                            row.power_dbm(),
                                            first.at_ms(),
                                            0,
                                            {}};
    }

    void take(const v1::LogEntry& e) {
        const auto& kind = e.kind();
        const bool begins = kind == "claimed" || kind == "on_air" || kind == "bench" ||
                            kind == "down" || kind == "off_air" || kind == "sighting";
        if (!begins && kind != "released" && kind != "sighting_gone" && kind != "removed") return;
        end(e.subject(), e.at_ms());
        if (begins && e.has_frequency_mhz())
            open_[e.subject()] = {e.subject(), kind, e.frequency_mhz(), e.power_dbm(),
                                  e.at_ms(),   0,    e.actor()};
    }

    std::size_t on_air() const {
        return static_cast<std::size_t>(std::ranges::count_if(open_, [](const auto& one) {
            return one.second.kind == "on_air" || one.second.kind == "sighting";
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
        found->second.to_ms = std::max(at_ms, found->second.from_ms);
        closed_.push_back(found->second);
        open_.erase(found);
    }

    std::int64_t until_ms_;
    std::map<std::string, Stretch> open_;
    std::vector<Stretch> closed_;
};

}  // namespace

std::string_view words_of(std::string_view kind) {
    if (kind == "on_air") return "on the air";
    if (kind == "sighting") return "seen, unasked";
    if (kind == "bench") return "on the bench";
    return kind == "down" ? "down" : "holds it";
}

std::vector<Stretch> stretches(const v1::BoardReply& first, const v1::LogReply& log,
                               std::int64_t until_ms) {
    Course course(first, until_ms);
    for (const auto& e : log.entries())
        if (e.version() > first.version()) course.take(e);
    return course.stretches();
}

std::uint64_t busiest_version(const v1::BoardReply& first, const v1::LogReply& log) {
    Course course(first, 0);
    std::size_t most = course.on_air();
    std::uint64_t version = most > 0 ? first.version() : 0;
    for (const auto& e : log.entries()) {
        if (e.version() <= first.version()) continue;
        course.take(e);
        if (course.on_air() <= most) continue;
        most = course.on_air();
        version = e.version();
    }
    return version;
}

}  // namespace fieldpeg::show
