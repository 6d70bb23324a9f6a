#include "client/show/report.h"

#include "client/show/flights.h"
#include "client/show/look.h"
#include "client/show/page.h"
#include "client/show/picture.h"
#include "client/show/replies.h"
#include "client/show/report_front.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <boost/url/encode.hpp>
#include <boost/url/grammar/lut_chars.hpp>
#include <boost/url/rfc/unreserved_chars.hpp>

#include <algorithm>
#include <map>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::show {
namespace {

constexpr std::string_view style = R"(
:root { color-scheme: light }
body { margin: 2rem auto; max-width: 62rem; padding: 0 1rem; color: #14211d; background: #fff; font: 11pt/1.4 system-ui, sans-serif }
h1 { border-bottom: 4px solid #14211d; padding-bottom: .3rem } h2 { margin-top: 2rem } h3 { margin-bottom: .3rem }
table { border-collapse: collapse; width: 100%; margin: .5rem 0 } caption { text-align: left; font-weight: 600 }
th, td { text-align: left; vertical-align: top; padding: .2rem .6rem .2rem 0; border-bottom: 1px solid #9aa69f }
td.n, th.n { text-align: right; font-variant-numeric: tabular-nums }
.picture { display: block; width: 100%; height: auto; border: 1px solid #9aa69f; margin: .5rem 0 }
.cautions { border: 4px double #8c1c13; padding: .4rem 1rem } code, pre { font-size: 9pt; overflow-wrap: anywhere } pre { white-space: pre-wrap }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem } dt { font-weight: 600 } dd { margin: 0 }
.scroll { overflow-x: auto }
summary { cursor: pointer; border-top: 1px solid #9aa69f; padding: .4rem 0 } summary h2 { display: inline; margin: 0; font-size: 1.2em } .small { font-size: 9pt } .paper { display: none }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 9.5pt; line-height: 1.3 } h1 { margin-top: 0 } h2 { break-after: avoid; margin: 3.5mm 0 1mm } tr, .picture { break-inside: avoid } ul, p { margin: 1mm 0 } .picture { width: auto; max-width: 100%; max-height: 112mm; margin: 1mm auto } .scroll { overflow: visible }
  details { display: none } details.print { display: block } details.print::details-content { content-visibility: visible; display: block } summary { list-style: none; border: 0; padding: 0 } .first { break-before: page } .paper { display: block }
  @page { size: A4; margin: 14mm } }
)";

/// An address that holds the picture itself [RFC2397]: its style touches nothing else on the page.
std::string data_address(std::string_view svg) {
    constexpr auto plain = boost::urls::unreserved_chars + boost::urls::grammar::lut_chars('/');
    return "data:image/svg+xml," + boost::urls::encode(svg, plain);
}

class Page {
public:
    explicit Page(const ReportSource& source)
        : source_(source),
          sheet_(source.day.sheet()),
          page_(begin_page(document_, "report", sheet_, style)) {}

    std::string html() {
        add_front(source_, page_);
        pictures();
        flights();
        frequencies();
        warnings();
        reasons();
        groups();
        gear();
        log();
        numbers();
        set(element(page_, "p",
                    "The file has more than is printed, to be unfolded on a screen: every pilot's "
                    "dial, "
                    "frequencies, warnings, sightings, gear and the whole log."),
            "class", "paper");
        return written(document_);
    }

private:
    using Row = std::vector<std::string>;

    /// A part that is folded on a screen; which of them are printed is decided here.
    void heading(std::string_view text, std::string_view printed = "") {
        heading_ = text;
        main_ = page_.append_child("details");
        if (!printed.empty()) set(main_, "class", printed);
        element(element(main_, "summary"), "h2", text);
    }
    void say(std::string_view text) { element(main_, "p", text); }
    void table(const Row& titles, const std::vector<Row>& rows) {
        add_table(main_, heading_, titles, rows);
    }

    /// On a narrow screen the one that can be read there.
    void picture(const std::string& on_paper, const std::string& on_phone, std::string_view what) {
        auto both = main_.append_child("picture");
        auto narrow = void_element(both, "source");
        set(narrow, "media", "screen and (max-width: 40rem)");
        set(narrow, "srcset", data_address(on_phone));
        auto image = void_element(both, "img");
        set(image, "class", "picture");
        set(image, "alt", what);
        set(image, "src", data_address(on_paper));
    }

    bool flew() const { return source_.on_paper.timeline.busiest_version() != 0; }

    void numbers() {
        heading("The day in numbers, and what to know of it");
        const auto count = [&](std::string_view kind) {
            return std::ranges::count(source_.log.entries(), kind, &v1::LogEntry::kind);
        };
        const auto unasked = std::ranges::count_if(source_.now.rows(),
                                                   [](const auto& row) { return row.unasked(); });
        const std::vector<std::pair<std::string, std::string>> facts = {
            {"Rule set", sheet_.has_rules() ? sheet_.rules().name() + ", " + sheet_.rules().date()
                                            : "none was chosen"},
            {"Pilots and relays",
             fmt::format("{} and {}", sheet_.pilots_size(), sheet_.relays_size())},
            {"Warnings", std::to_string(count("warning"))},
            {"Sightings",
             fmt::format("{}; {} radiate unasked as this is written", count("sighting"), unasked)}};
        auto list = main_.append_child("dl");
        for (const auto& [what, value] : facts) {
            element(list, "dt", what);
            element(list, "dd", value);
        }
        auto box = element(main_, "div");
        set(box, "class", "cautions");
        for (const auto& text : source_.ready.cautions()) element(box, "p", text);
    }

    void pictures() {
        const auto& paper = source_.on_paper;
        const auto& phone = source_.on_phone;
        heading("Who was on which frequency", "print first");
        picture(timeline_picture(paper.timeline), timeline_picture(phone.timeline),
                "The frequencies over the day; the table below says the same.");
        heading("The field", "print");
        if (flew())
            say(fmt::format("As it was at {}, when most were on the air at once.",
                            clock_text(paper.timeline.busiest_ms())));
        picture(field_picture(paper.field), field_picture(phone.field),
                "Places, areas and ranges, to scale.");
        heading("The dial of each");
        say("What arrives at each pilot's receiver at that moment, with its filter over it.");
        for (std::size_t i = 0; i < std::min(paper.dials.size(), phone.dials.size()); ++i)
            picture(spectrum_picture(paper.dials[i]), spectrum_picture(phone.dials[i]),
                    fmt::format("What arrives at {}'s receiver.", paper.dials[i].result().owner()));
    }

    /// A line for each channel and power of somebody, with the times.
    void flights() {
        heading("Every flight", "print first");
        std::vector<Row> rows;
        std::map<Row, std::size_t> place;
        for (const auto& f : source_.airtime.flights()) {
            const Row what = {flown_text(f.pilot(), f.relay()), day::channel_text(f.channel()),
                              day::power_text(f.power_dbm())};
            const auto [at, is_new] = place.try_emplace(what, rows.size());
            if (is_new) rows.push_back({what[0], what[1], what[2], ""});
            auto& times = rows[at->second].back();
            times += fmt::format("{}{} {} min{}", times.empty() ? "" : ", ",
                                 clock_text(f.from_ms()).substr(0, 5), minutes_text(f.minutes()),
                                 f.end() == v1::Flight::down         ? " (down)"
                                 : f.end() == v1::Flight::in_the_air ? " (still on the air)"
                                                                     : "");
        }
        if (rows.empty()) return say("Nobody flew.");
        table({"who", "channel", "power", "from, and how long"}, rows);
    }

    void frequencies() {
        heading("Who, on what, at what power, when");
        std::vector<Row> rows;
        using Stretch = v1::TimelinePictureReply::Stretch;
        const auto& stretches = source_.on_paper.timeline.stretches();
        std::vector<Stretch> all(stretches.begin(), stretches.end());
        std::ranges::stable_sort(all, {},
                                 [](const Stretch& s) { return std::pair(s.mhz(), s.from_ms()); });
        rows.reserve(all.size());
        for (const auto& s : all)
            rows.push_back(
                {day::mhz_text(s.mhz()) + " MHz", s.transmitter(), std::string(way_text(s.kind())),
                 day::power_text(s.power_dbm()), clock_text(s.from_ms()),
                 s.to_ms() >= source_.on_paper.timeline.until_ms() ? "still"
                                                                   : clock_text(s.to_ms()),
                 s.by().empty() ? "as the day began" : s.by()});
        if (rows.empty()) return say("Nobody held a channel.");
        table({"frequency", "who", "how", "power", "from", "to", "entered by"}, rows);
    }

    void entries(std::string_view title, std::string_view none,
                 const std::vector<const v1::LogEntry*>& chosen) {
        heading(title);
        std::vector<Row> rows;
        rows.reserve(chosen.size());
        for (const auto* e : chosen)
            rows.push_back(
                {std::to_string(e->version()), clock_text(e->at_ms()), e->actor(), e->text()});
        if (rows.empty()) return say(none);
        table({"entry", "time", "by", "what"}, rows);
    }

    template <class Which>
    std::vector<const v1::LogEntry*> chosen(Which which) const {
        std::vector<const v1::LogEntry*> found;
        for (const auto& e : source_.log.entries())
            if (which(e)) found.push_back(&e);
        return found;
    }

    void warnings() {
        entries("Warnings, and when they were told", "Nobody had to be warned.",
                chosen([](const auto& e) { return e.kind() == "warning" || e.kind() == "told"; }));
    }

    void reasons() {
        entries("Sightings", "Nothing was seen unasked.", chosen([](const auto& e) {
                    return e.kind() == "sighting" || e.kind() == "sighting_gone";
                }));
        entries("What the marshal allowed against others, and why", "Nothing had to be allowed.",
                chosen([](const auto& e) { return !e.allowed_because().empty(); }));
    }

    void groups() {
        std::map<std::uint32_t, std::vector<std::string>> groups;
        const auto add = [&](const auto& one) {
            if (one.has_claim() && one.claim().group() != 0)
                groups[one.claim().group()].push_back(fmt::format(
                    "{} on {} at {}", one.name(), day::channel_text(one.claim().channel()),
                    day::power_text(one.claim().power_dbm())));
        };
        for (const auto& p : sheet_.pilots()) add(p);
        for (const auto& r : sheet_.relays()) add(r);
        if (groups.empty()) return;
        heading("Flight groups");
        std::vector<Row> rows;
        rows.reserve(groups.size());
        for (const auto& [group, who] : groups)
            rows.push_back({std::to_string(group), fmt::format("{}", fmt::join(who, "; "))});
        table({"group", "who"}, rows);
    }

    static std::string transmitter_text(const v1::Transmitter& t) {
        return fmt::format("{}, antenna {}, {}", t.emission(), t.mounting().antenna(),
                           day::powers_text(t));
    }

    static std::string receivers_text(
        const google::protobuf::RepeatedPtrField<v1::Receiver>& receivers) {
        std::vector<std::string> all;
        for (const auto& r : receivers)
            all.push_back(
                fmt::format("{}: {}, antenna {}", r.name(), r.receiver(), r.mounting().antenna()));
        return fmt::format("{}", fmt::join(all, "; "));
    }

    /// As it was declared, and where each number of it comes from.
    void gear() {
        heading("Gear as it was declared");
        std::vector<Row> rows;
        for (const auto& p : sheet_.pilots())
            rows.push_back({p.name(), p.place(), p.area(),
                            p.has_video() ? transmitter_text(p.video()) : "none",
                            receivers_text(p.receivers()),
                            fmt::format("{}", fmt::join(p.defaults(), "; "))});
        for (const auto& r : sheet_.relays())
            rows.push_back({fmt::format("{} of {}", r.name(), r.owner()), r.place(), "",
                            transmitter_text(r.transmitter()), receivers_text(r.receivers()),
                            fmt::format("{}", fmt::join(r.defaults(), "; "))});
        table({"who", "place", "area", "sends", "receives", "taken for granted"}, rows);
        v1::Library used;
        *used.mutable_emissions() = sheet_.emissions();
        *used.mutable_receivers() = sheet_.receiver_profiles();
        *used.mutable_antennas() = sheet_.antennas();
        *used.mutable_control_links() = sheet_.control_links();
        *used.mutable_positioning_receivers() = sheet_.positioning_receivers();
        heading("Values of the gear, and where they come from");
        set(element(main_, "pre", gear_text(used, {})), "tabindex", "0");
    }

    void log() {
        heading("The log");
        say(fmt::format(
            "{} entries, each chained to the one before by SHA-256. The last hash is {}. Whoever "
            "has noted this hash can tell later whether the log is still the one it was: "
            "'fieldpeg log' computes the chain anew. The hash alone does not prove who wrote the "
            "log, nor that all was entered.",
            source_.log.last_version(), source_.log.head_hash()));
        std::vector<Row> rows;
        for (const auto& e : source_.log.entries())
            rows.push_back({std::to_string(e.version()), clock_text(e.at_ms()), e.actor(), e.text(),
                            e.hash().substr(0, 8)});
        table({"entry", "time", "by", "what", "hash begins"}, rows);
    }

    const ReportSource& source_;
    const v1::DaySheet& sheet_;
    std::string heading_;  ///< the last
    pugi::xml_document document_;
    pugi::xml_node page_, main_;  ///< all of it; the part that is being written
};

}  // namespace

std::int64_t end_of_day_ms(const v1::LogReply& log, std::int64_t now_ms) {
    constexpr std::int64_t minute_ms = 60'000, over_after_ms = 60 * minute_ms;
    const auto last_ms = log.entries().rbegin()->at_ms();
    return now_ms - last_ms > over_after_ms ? last_ms + minute_ms : now_ms;
}

std::string report_html(const ReportSource& source) {
    return Page(source).html();
}

}  // namespace fieldpeg::show
