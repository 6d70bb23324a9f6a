#include "client/show/pegs.h"

#include "client/show/peg.h"
#include "client/show/table.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <utility>
#include <vector>

namespace fieldpeg::show {
namespace {

std::string line_text(const Peg& peg) {
    const auto text = name_text(peg);
    if (!peg.is_held()) return fmt::format("{}: {}", text, missing_text(peg));
    std::vector<std::string> parts;
    const auto& channel = peg.claim->channel();
    const auto mhz = day::mhz_text(channel.mhz()) + " MHz";
    if (auto group = group_text(*peg.claim); !group.empty()) parts.push_back(std::move(group));
    parts.push_back(is_called_by_mhz(channel) ? mhz : fmt::format("{} = {}", channel.name(), mhz));
    parts.push_back(day::power_text(peg.claim->power_dbm()));
    if (peg.moves()) parts.emplace_back("moves by itself");
    return fmt::format("{}: {}", text, fmt::join(parts, ", "));
}

}  // namespace

std::vector<Peg> pegs(const v1::DaySheet& sheet) {
    const auto claim = [](const auto& one) { return one.has_claim() ? &one.claim() : nullptr; };
    std::vector<Peg> all;
    for (const auto& p : sheet.pilots()) {
        all.push_back({p.name(), "", p.has_video() ? &p.video() : nullptr, claim(p)});
        for (const auto& r : sheet.relays())
            if (r.owner() == p.name())
                all.push_back({p.name(), r.name(), &r.transmitter(), claim(r)});
    }
    return all;
}

std::string group_text(const v1::Claim& claim) {
    if (claim.always()) return "always on";
    return claim.group() == 0 ? "" : fmt::format("group {}", claim.group());
}

bool is_called_by_mhz(const v1::Channel& channel) {
    return channel.name() == day::mhz_text(channel.mhz());
}

std::string missing_text(const Peg& peg) {
    return peg.gear ? "no channel yet" : "sends nothing";
}

std::string name_text(const Peg& peg) {
    return peg.relay.empty() ? peg.pilot : fmt::format("{} (relay of {})", peg.relay, peg.pilot);
}

std::string pegs_text(const v1::DaySheet& sheet) {
    std::string all;
    for (const auto& peg : pegs(sheet)) all += line_text(peg) + "\n";
    return all;
}

std::string pegs_csv(const v1::DaySheet& sheet) {
    std::string all = "pilot,relay,group,channel,frequency_mhz,power_mw\r\n";
    for (const auto& peg : pegs(sheet)) {
        all += csv_field(peg.pilot) + "," + csv_field(peg.relay);
        if (!peg.is_held()) {
            all += ",,,,\r\n";
            continue;
        }
        const auto& claim = *peg.claim;
        all += fmt::format(",{},{},{},{}\r\n",
                           claim.always()      ? "always"
                           : claim.group() > 0 ? std::to_string(claim.group())
                                               : "",
                           csv_field(claim.channel().name()), day::mhz_text(claim.channel().mhz()),
                           csv_mw(claim.power_dbm()));
    }
    return all;
}

}  // namespace fieldpeg::show
