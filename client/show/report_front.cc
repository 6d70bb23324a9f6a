#include "client/show/report_front.h"

#include "client/show/flights.h"
#include "client/show/look.h"
#include "client/show/page.h"
#include "client/show/times.h"
#include "server/day/assessment.h"
#include "server/day/state.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <map>
#include <set>
#include <tuple>
#include <utility>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr std::size_t lines_max = 8;  ///< of a list, so that a usual day stays on one page

/// What happened, as it is told afterwards.
struct Incident {
    std::int64_t at_ms;
    std::string text;
    bool comes_first = false;
};

/// One thing told once, with how often: "Edda: steady became shaky, ..." of each who did it to her.
class Harms {
public:
    Harms(const ReportSource& source) : sheet_(source.day.sheet()) {
        for (const auto& e : source.log.entries())
            if (e.has_warning() && is_told(e.warning())) take(e);
    }

    std::vector<Incident> incidents() const {
        std::vector<Incident> all;
        for (const auto& [who, harm] : by_whom_) {
            const auto& w = harm.worst->warning();
            auto text = this->text(*harm.worst);
            if (harm.count > 1) text += fmt::format(" ({} times)", harm.count);
            all.push_back(
                {harm.from_ms, std::move(text), w.after() == v1::Verdict::control_at_risk});
        }
        return all;
    }

private:
    struct Harm {
        const v1::LogEntry* worst = nullptr;
        std::int64_t from_ms = 0;
        int count = 0;
    };

    /// A verdict got worse, or a picture went. Not what only cost a few decibels.
    static bool is_told(const v1::Warning& w) {
        return w.kind() == v1::Warning::source_off ||
               (w.kind() != v1::Warning::moved && w.before() != w.after());
    }
    static std::pair<bool, double> badness(const v1::Warning& w) {
        return {w.after() == v1::Verdict::control_at_risk, -w.margin_after_db()};
    }

    void take(const v1::LogEntry& e) {
        const auto& w = e.warning();
        auto& harm = by_whom_[{w.pilot(), w.cause(), w.cause_is_sighting()}];
        if (harm.count++ == 0) harm.from_ms = e.at_ms();
        if (!harm.worst || badness(harm.worst->warning()) < badness(w)) harm.worst = &e;
    }

    std::string text(const v1::LogEntry& e) const {
        const auto& w = e.warning();
        const auto cause = day::holder(sheet_, w.cause());
        const auto what = w.cause_is_sighting() ? "something unasked"
                          : cause               ? cause->name
                                                : "somebody";
        if (w.kind() == v1::Warning::source_off)
            return fmt::format("{}: the picture went, {} was switched off", e.subject(), what);
        const auto by = w.channel().mhz() > 0
                            ? fmt::format("{} on {} at {}", what, day::channel_text(w.channel()),
                                          day::power_text(w.power_dbm()))
                            : "the field, its noise or somebody's gear had changed";
        if (w.after() == v1::Verdict::control_at_risk)
            return fmt::format("{}: control of the aircraft was at risk, by {}", e.subject(), by);
        return fmt::format("{}: {} became {}, by {}", e.subject(), day::verdict_word(w.before()),
                           day::verdict_word(w.after()), by);
    }

    const v1::DaySheet& sheet_;
    std::map<std::tuple<std::uint32_t, std::uint32_t, bool>, Harm> by_whom_;
};

class Front {
public:
    Front(const ReportSource& source, pugi::xml_node main) : source_(source), main_(main) {}

    void add() {
        head();
        flew();
        list("What went wrong", "Nothing that the log knows of.", wrong());
        list("What was found out", "Nothing unasked was seen, and nobody was looked for.", found());
        foot();
    }

private:
    using Row = std::vector<std::string>;
    const v1::AirtimeReply& airtime() const { return source_.airtime; }
    void say(std::string_view text) { element(main_, "p", text); }

    /// Of which time it tells, and when it was written: two things once the day is over.
    void head() {
        const auto& log = source_.log;
        const auto first_ms = log.entries(0).at_ms(), last_ms = log.entries().rbegin()->at_ms();
        const bool is_one_date = date_text(first_ms) == date_text(last_ms);
        say(fmt::format("{}. The log runs from {} {} to {}{}. Written {}.",
                        source_.day.sheet().field().name(), date_text(first_ms),
                        clock_text(first_ms), is_one_date ? "" : date_text(last_ms) + " ",
                        clock_text(last_ms), date_time_text(source_.now_ms)));
        if (!log.verified())
            set(element(main_, "p", "THE LOG IS NOT WHAT WAS WRITTEN: " + log.fault()), "class",
                "cautions");
    }

    void flew() {
        element(main_, "h2", "Who flew");
        std::vector<Row> rows;
        std::uint64_t flights = 0;
        double minutes = 0;
        for (const bool relays : {false, true})
            for (const auto& total : airtime().totals()) {
                if (total.relay().empty() == relays) continue;
                rows.push_back(row(total));
                if (relays) continue;
                flights += total.flights();
                minutes += total.minutes();
            }
        if (rows.empty()) return say("Nobody flew.");
        add_table(main_, "Who flew", {"who", "flights", "minutes", "on", "first on", "last off"},
                  rows);
        auto text = fmt::format("{} {}, {} minutes in the air", flights,
                                flights == 1 ? "flight" : "flights", minutes_text(minutes));
        if (const auto most = most_at_once_text(airtime()); !most.empty()) text += "; " + most;
        say(text + ".");
        did_not_fly();
    }

    Row row(const v1::FlightTotal& total) const {
        std::vector<std::string> on;
        std::string first, last;
        for (const auto& f : airtime().flights()) {
            if (f.pilot() != total.pilot() || f.relay() != total.relay()) continue;
            auto text = fmt::format("{} at {}", day::channel_text(f.channel()),
                                    day::power_text(f.power_dbm()));
            if (std::ranges::find(on, text) == on.end()) on.push_back(std::move(text));
            if (first.empty()) first = clock_text(f.from_ms());
            last = f.has_until_ms() ? clock_text(f.until_ms()) : "still on the air";
        }
        return {flown_text(total.pilot(), total.relay()),
                std::to_string(total.flights()),
                minutes_text(total.minutes()),
                fmt::format("{}", fmt::join(on, "; ")),
                std::move(first),
                std::move(last)};
    }

    void did_not_fly() {
        std::set<std::string> flown;
        for (const auto& total : airtime().totals())
            if (total.relay().empty()) flown.insert(total.pilot());
        std::vector<std::string> others;
        for (const auto& p : source_.day.sheet().pilots())
            if (!flown.contains(p.name())) others.push_back(p.name());
        if (!others.empty()) say(fmt::format("Did not fly: {}.", fmt::join(others, ", ")));
    }

    std::vector<Incident> wrong() const {
        auto all = Harms(source_).incidents();
        for (const auto& e : source_.log.entries()) {
            if (e.kind() == "down") all.push_back({e.at_ms(), lost_text(e), true});
            if (e.closed().now())
                all.push_back({e.at_ms(), "everybody had to land: " + e.closed().because()});
            if (!e.allowed_because().empty()) all.push_back({e.at_ms(), e.text()});
        }
        return all;
    }

    /// On which channel the flight says that ended with this entry, if it was one.
    std::string lost_text(const v1::LogEntry& e) const {
        for (const auto& f : airtime().flights())
            if (f.end() == v1::Flight::down && f.until_version() == e.version())
                return fmt::format("{} went down on {}", e.subject(),
                                   day::channel_text(f.channel()));
        return fmt::format("{} went down", e.subject());
    }

    std::vector<Incident> found() const {
        std::vector<Incident> all;
        std::map<std::string, std::int64_t> down;
        for (const auto& e : source_.log.entries()) {
            if (e.kind() == "sighting" || e.kind() == "sighting_gone")
                all.push_back({e.at_ms(), e.text()});
            const bool is_down = e.kind() == "down";
            if (const auto at = down.find(e.subject()); at != down.end() && is_end_of_down(e)) {
                all.push_back({e.at_ms(), fmt::format("{}, down since {}, was found or is silent",
                                                      e.subject(), clock_text(at->second))});
                down.erase(at);
            }
            if (is_down) down.try_emplace(e.subject(), e.at_ms());
        }
        for (const auto& [who, at_ms] : down)
            all.push_back({at_ms, fmt::format("{} went down, and is not known to be silent", who)});
        return all;
    }

    static bool is_end_of_down(const v1::LogEntry& e) {
        return e.kind() == "off_air" || e.kind() == "on_air" || e.kind() == "bench" ||
               e.kind() == "released" || e.kind() == "removed";
    }

    void list(std::string_view title, std::string_view none, std::vector<Incident> all) {
        element(main_, "h2", title);
        if (all.empty()) return say(none);
        std::ranges::stable_sort(
            all, {}, [](const Incident& i) { return std::pair(!i.comes_first, i.at_ms); });
        auto lines = element(main_, "ul");
        for (std::size_t i = 0; i < std::min(all.size(), lines_max); ++i)
            element(lines, "li", fmt::format("{} {}", clock_text(all[i].at_ms), all[i].text));
        if (all.size() > lines_max)
            element(lines, "li",
                    fmt::format("and {} more, in the log below", all.size() - lines_max));
    }

    void foot() {
        const auto& log = source_.log;
        auto text = fmt::format(
            "{} entries in the log{}; the last hash is {}. By the {}", log.last_version(),
            log.verified() ? ", the chain of hashes holds" : "", log.head_hash(), day::model_name);
        if (std::ranges::any_of(log.models(), [](const auto& m) { return m != day::model_name; }))
            text += fmt::format("; the day was decided by the {}, what it showed may differ",
                                fmt::join(log.models(), ", then the "));
        set(element(main_, "p", fmt::format("{}. {}", text, estimates_text)), "class", "small");
    }

    const ReportSource& source_;
    pugi::xml_node main_;
};

}  // namespace

void add_front(const ReportSource& source, pugi::xml_node main) {
    Front(source, main).add();
}

}  // namespace fieldpeg::show
