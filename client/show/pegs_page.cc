#include "client/show/peg.h"

#include "client/show/look.h"
#include "client/show/page.h"
#include "client/show/pegs.h"
#include "server/day/text_width.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

namespace fieldpeg::show {
namespace {

constexpr std::string_view style = R"(
:root { color-scheme: light }
body { margin: 1.5rem auto; max-width: 186mm; padding: 0 1rem; color: #14211d; background: #fff; font: 11pt/1.35 system-ui, sans-serif }
h1 { margin: 0; font-size: 1.7em; line-height: 1.2; overflow-wrap: anywhere } h2 { margin: 2rem 0 .5rem }
h1 + p { margin: .2rem 0 1rem; padding-bottom: .4rem; border-bottom: 4px solid #14211d }
.roster table { width: 100%; border-collapse: collapse; margin: 0 0 1em } .roster caption { text-align: left; font-weight: 700; border-bottom: 2px solid #14211d; break-after: avoid }
.roster th { font-weight: 400; width: 100% } .roster th, .roster td { padding: .05em .5em .05em 0; text-align: left; vertical-align: top; border-bottom: 1px solid #9aa69f }
.roster th { overflow-wrap: anywhere } .roster th.relay { padding-left: 1.2em } .roster td { white-space: nowrap } .roster td { min-width: 1.6em } .roster td.n { min-width: 4.4em; text-align: right; font-variant-numeric: tabular-nums } tr { break-inside: avoid }
.pegs { display: grid; grid-template-columns: repeat(3, minmax(0, 1fr)) } .peg { box-sizing: border-box; min-height: 38mm; padding: 3mm 4mm; border: .3mm dashed #5c6b64; break-inside: avoid; display: flex; flex-direction: column; line-height: 1.15 }
.peg .channel { display: flex; align-items: baseline; justify-content: space-between; gap: .3em; white-space: nowrap; font-weight: 800; font-size: 27pt } .peg .channel span { font-size: 17pt }
.peg .name { margin: 1mm 0 .5mm; font-size: 14pt; font-weight: 600; overflow-wrap: anywhere } .peg .dial { position: relative; margin-top: auto; border-bottom: .5mm solid #14211d; height: 3.5mm } .peg .dial i { position: absolute; bottom: 0; width: 1.4mm; height: 3.5mm; background: #14211d; print-color-adjust: exact; -webkit-print-color-adjust: exact }
pre { white-space: pre-wrap; overflow-wrap: anywhere; font: inherit } .small { font-size: 8pt; margin: .5em 0 0 }
@media screen and (max-width: 40rem) { .roster > div { columns: 1 !important; font-size: 11pt !important } .pegs { grid-template-columns: minmax(0, 1fr) } }
@media print { body { margin: 0; padding: 0; max-width: none } .roster { break-after: page } h2, .chat { display: none } @page { size: A4; margin: 12mm } }
)";

/// The roster: under each heading who belongs there, groups first.
using Block = std::pair<std::string, std::vector<const Peg*>>;

std::vector<Block> blocks(const std::vector<Peg>& all) {
    constexpr std::uint32_t no_group = UINT32_MAX - 2, always = UINT32_MAX - 1, none = UINT32_MAX;
    std::map<std::uint32_t, std::vector<const Peg*>> by_group;
    for (const auto& peg : all) {
        const auto group = !peg.is_held()            ? none
                           : peg.claim->always()     ? always
                           : peg.claim->group() == 0 ? no_group
                                                     : peg.claim->group();
        by_group[group].push_back(&peg);
    }
    const bool are_groups = !by_group.empty() && by_group.begin()->first < no_group;
    std::vector<Block> found;
    found.reserve(by_group.size());
    for (auto& [group, who] : by_group)
        found.emplace_back(group == none       ? "No channel"
                           : group == always   ? "Always on"
                           : group != no_group ? fmt::format("Group {}", group)
                           : are_groups        ? "Any group: when they can"
                                               : "Everybody",
                           std::move(who));
    return found;
}

/// How the roster is set so that it fits on one sheet: in the largest type that does. Lengths are
/// points; the sheet's are those of the style above on A4 [ours: measured with some to spare].
struct Setting {
    double size;
    int columns;
};
constexpr double sheet_width = 527, sheet_height = 640;
constexpr double size_max = 14, size_min = 5, size_step = 0.5;
constexpr int columns_max = 4;

double height(const std::vector<Block>& roster, const Setting& setting) {
    constexpr double line = 1.35, numbers = 13.5;  // in sizes of the type
    constexpr double rule = 1;
    const double column = (sheet_width - (setting.columns - 1) * setting.size) / setting.columns;
    const double name_width = column - numbers * setting.size;
    double all = 0;
    for (const auto& [title, who] : roster) {
        all += (line + 1) * setting.size + 2 * rule;
        for (const auto* peg : who)
            all += line * setting.size *
                       static_cast<double>(
                           day::wrapped(name_text(*peg), setting.size, name_width).size()) +
                   rule;
    }
    return all / setting.columns;
}

Setting setting_for(const std::vector<Block>& roster) {
    for (double size = size_max; size > size_min; size -= size_step)
        for (int columns = 1; columns <= columns_max; ++columns)
            if (height(roster, {size, columns}) <= sheet_height) return {size, columns};
    return {size_min, columns_max};
}

class Page {
public:
    explicit Page(const v1::DaySheet& sheet)
        : sheet_(sheet), all_(pegs(sheet)), main_(begin_page(document_, "pegs", sheet, style)) {
        for (const auto& peg : all_) {
            if (!peg.is_held()) continue;
            low_mhz_ = std::min(low_mhz_, peg.claim->channel().mhz());
            high_mhz_ = std::max(high_mhz_, peg.claim->channel().mhz());
        }
    }

    std::string html() {
        roster();
        element(main_, "h2", "Pegs, to cut out");
        auto grid = section("pegs");
        for (const auto& peg : all_)
            if (peg.is_held()) add(peg, grid);
        auto chat = section("chat");
        element(chat, "h2", "For the club's chat");
        set(element(chat, "pre", pegs_text(sheet_)), "tabindex", "0");
        return written(document_);
    }

private:
    pugi::xml_node section(std::string_view name) {
        auto s = element(main_, "div");
        set(s, "class", name);
        return s;
    }

    void roster() {
        const auto roster = blocks(all_);
        const auto title = main_.first_child();
        auto all = section("roster");
        all.append_move(title);
        element(all, "p", sheet_.field().name());
        auto set_in = element(all, "div");
        const auto [size, columns] = setting_for(roster);
        set(set_in, "style", fmt::format("font-size: {}pt; columns: {}", size, columns));
        for (const auto& [group, who] : roster) {
            auto table = set_in.append_child("table");
            element(table, "caption", group);
            auto body = element(table, "tbody");
            for (const auto* peg : who) row(*peg, body);
        }
        set(element(all, "p", estimates_text), "class", "small");
    }

    /// A relay right under its owner, or with its owner's name.
    void row(const Peg& peg, pugi::xml_node body) const {
        const auto before = body.last_child();
        const bool is_under =
            !peg.relay.empty() && before && peg.pilot == before.attribute("data-pilot").value();
        auto line = body.append_child("tr");
        set(line, "data-pilot", peg.pilot);
        auto name = element(line, "th",
                            peg.relay.empty() ? peg.pilot
                            : is_under        ? fmt::format("{}, relay", peg.relay)
                                       : fmt::format("{}, relay of {}", peg.relay, peg.pilot));
        set(name, "scope", "row");
        if (is_under) set(name, "class", "relay");
        if (!peg.is_held()) {
            set(element(line, "td", missing_text(peg)), "colspan", "3");
            return;
        }
        const auto& channel = peg.claim->channel();
        element(line, "td", is_called_by_mhz(channel) ? "" : channel.name());
        for (const auto& text :
             {day::mhz_text(channel.mhz()) + " MHz", day::power_text(peg.claim->power_dbm())})
            set(element(line, "td", text), "class", "n");
    }

    void add(const Peg& peg, pugi::xml_node grid) const {
        auto card = element(grid, "div");
        set(card, "class", "peg");
        const auto& channel = peg.claim->channel();
        const auto mhz = day::mhz_text(channel.mhz()) + " MHz";
        auto top = element(card, "div", is_called_by_mhz(channel) ? mhz : channel.name());
        set(top, "class", "channel");
        if (!is_called_by_mhz(channel)) element(top, "span", mhz);
        set(element(card, "div", peg.name()), "class", "name");
        std::vector<std::string> small;
        if (!peg.relay.empty()) small.push_back(fmt::format("relay of {}", peg.pilot));
        if (auto group = group_text(*peg.claim); !group.empty()) small.push_back(std::move(group));
        small.push_back(day::power_text(peg.claim->power_dbm()));
        if (peg.moves()) small.emplace_back("moves by itself");
        element(card, "div", fmt::format("{}", fmt::join(small, ", ")));
        auto dial = element(card, "div");
        set(dial, "class", "dial");
        set(dial, "aria-hidden", "true");
        set(element(dial, "i"), "style",
            fmt::format("left: calc((100% - 1.4mm) * {:.3f})", share(channel.mhz())));
    }

    /// Where it lies between the lowest and the highest of the day.
    double share(double mhz) const {
        return high_mhz_ > low_mhz_ ? (mhz - low_mhz_) / (high_mhz_ - low_mhz_) : 0.5;
    }

    const v1::DaySheet& sheet_;
    std::vector<Peg> all_;
    double low_mhz_ = HUGE_VAL, high_mhz_ = 0;
    pugi::xml_document document_;
    pugi::xml_node main_;
};

}  // namespace

std::string pegs_html(const v1::DaySheet& sheet) {
    return Page(sheet).html();
}

}  // namespace fieldpeg::show
