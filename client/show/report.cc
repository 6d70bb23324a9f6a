#include "client/show/report.h"

#include "client/show/course.h"
#include "client/show/look.h"
#include "client/show/markup.h"
#include "client/show/picture.h"
#include "client/show/replies.h"
#include "client/show/times.h"
#include "server/day/sentences.h"
#include "server/day/state.h"
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
@media print { body { margin: 0; max-width: none; font-size: 9.5pt } h2 { break-after: avoid } tr, .picture { break-inside: avoid } @page { size: A4; margin: 14mm } }
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
          stretches_(stretches(source.first, source.log, source.now_ms)) {}

    std::string html() {
        summary();
        cautions();
        pictures();
        frequencies();
        warnings();
        reasons();
        groups();
        gear();
        log();
        const auto title = escaped(fmt::format("{}, {}", sheet_.name(), sheet_.date()));
        return fmt::format(
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src "
            "data:; style-src 'unsafe-inline'\">\n<title>{0}: report</title>\n<style>{1}</style>\n"
            "</head>\n<body>\n<main>\n<h1>{0}</h1>\n{2}</main>\n</body>\n</html>\n",
            title, style, body_);
    }

private:
    using Row = std::vector<std::string>;

    void heading(std::string_view text) {
        heading_ = escaped(text);
        body_ += fmt::format("<h2>{}</h2>\n", heading_);
    }
    void say(std::string_view text) { body_ += fmt::format("<p>{}</p>\n", escaped(text)); }

    void table(const Row& titles, const std::vector<Row>& rows) {
        body_ += fmt::format(
            "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"{}\"><table>\n"
            "<thead><tr>",
            heading_);
        for (const auto& t : titles) body_ += fmt::format("<th scope=\"col\">{}</th>", escaped(t));
        body_ += "</tr></thead>\n<tbody>\n";
        for (const auto& row : rows) {
            body_ += "<tr>";
            for (const auto& cell : row) body_ += fmt::format("<td>{}</td>", escaped(cell));
            body_ += "</tr>\n";
        }
        body_ += "</tbody></table></div>\n";
    }

    void picture(const std::string& svg, std::string_view what) {
        body_ += fmt::format("<img class=\"picture\" alt=\"{}\" src=\"{}\">\n", escaped(what),
                             data_address(svg));
    }

    std::size_t count(std::string_view kind) const {
        return static_cast<std::size_t>(
            std::ranges::count(source_.log.entries(), kind, &v1::LogEntry::kind));
    }

    void summary() {
        int allowed = 0, unasked = 0;
        for (const auto& e : source_.log.entries()) allowed += e.allowed_because().empty() ? 0 : 1;
        for (const auto& row : source_.now.rows()) unasked += row.unasked() ? 1 : 0;
        const std::vector<std::pair<std::string, std::string>> facts = {
            {"Field", sheet_.field().name()},
            {"Rule set", sheet_.has_rules() ? sheet_.rules().name() + ", " + sheet_.rules().date()
                                            : "none was chosen"},
            {"Pilots and relays",
             fmt::format("{} and {}", sheet_.pilots_size(), sheet_.relays_size())},
            {"Most on the air at once",
             source_.busiest_ms == 0 ? "nobody was" : clock_text(source_.busiest_ms)},
            {"Warnings", std::to_string(count("warning"))},
            {"Sightings",
             fmt::format("{}; {} radiate unasked as this is written", count("sighting"), unasked)},
            {"Allowed by the marshal", std::to_string(allowed)},
            {"Written", date_time_text(source_.now_ms)},
            {"Log", fmt::format("{} entries; {}", source_.log.last_version(),
                                source_.log.verified()
                                    ? "the chain of hashes holds"
                                    : "THE CHAIN DOES NOT HOLD: " + source_.log.fault())},
            {"Last hash", source_.log.head_hash()}};
        body_ += "<dl>\n";
        for (const auto& [what, value] : facts)
            body_ += fmt::format("<dt>{}</dt><dd>{}</dd>\n", escaped(what), escaped(value));
        body_ += "</dl>\n";
    }

    void cautions() {
        body_ += "<div class=\"cautions\">\n";
        for (const auto& text : source_.ready.cautions()) say(text);
        body_ += "</div>\n";
    }

    void pictures() {
        heading("Who was on which frequency");
        picture(timeline_picture(source_.first, source_.log, source_.now_ms),
                "The frequencies over the day; the table below says the same.");
        heading("The field");
        const bool flew = source_.busiest_ms != 0;
        const auto& then = flew ? source_.busiest.sheet() : sheet_;
        const auto basis = flew ? v1::Basis::on_air : v1::Basis::held;
        if (flew)
            say(fmt::format("As it was at {}, when most were on the air at once.",
                            clock_text(source_.busiest_ms)));
        picture(field_picture(then, basis), "Places, areas and ranges, to scale.");
        heading("The dial");
        say("What arrives at each pilot's receiver at that moment, with its filter over it.");
        for (const auto& p : then.pilots()) {
            const auto svg = spectrum_picture(then, basis, p.name(), "");
            if (svg) picture(*svg, fmt::format("What arrives at {}'s receiver.", p.name()));
        }
    }

    void frequencies() {
        heading("Who, on what, at what power, when");
        std::vector<Row> rows;
        auto all = stretches_;
        std::ranges::stable_sort(all, {},
                                 [](const Stretch& s) { return std::pair(s.mhz, s.from_ms); });
        rows.reserve(all.size());
        for (const auto& s : all)
            rows.push_back({day::mhz_text(s.mhz) + " MHz", s.who, std::string(words_of(s.kind)),
                            day::power_text(s.power_dbm), clock_text(s.from_ms),
                            s.to_ms >= source_.now_ms ? "still" : clock_text(s.to_ms),
                            s.by.empty() ? "as the day began" : s.by});
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
        body_ += fmt::format("<pre tabindex=\"0\">{}</pre>\n", escaped_lines(gear_text(used, {})));
    }

    /// escaped() leaves no line ends.
    static std::string escaped_lines(std::string_view text) {
        std::string all;
        while (!text.empty()) {
            const auto end = text.find('\n');
            all += escaped(text.substr(0, end)) + "\n";
            text = end == std::string_view::npos ? std::string_view() : text.substr(end + 1);
        }
        return all;
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
    std::vector<Stretch> stretches_;
    std::string heading_;  ///< the last
    std::string body_;
};

}  // namespace

std::string report_html(const ReportSource& source) {
    return Page(source).html();
}

}  // namespace fieldpeg::show
