#include "tests/simulation/world.h"

#include <fmt/format.h>

#include <cstdlib>
#include <iostream>
#include <utility>

namespace fieldpeg::simulation {

void Tally::add(const Tally& other) {
    for (const auto& [name, asked] : other.commands) {
        commands[name].yes += asked.yes;
        commands[name].no += asked.no;
        commands[name].unknown += asked.unknown;
    }
    for (const auto number :
         {&Tally::steps, &Tally::kills, &Tally::power_cuts, &Tally::stops, &Tally::failed_starts,
          &Tally::failed_calls, &Tally::full_disks, &Tally::jumps, &Tally::cut_cables,
          &Tally::connections, &Tally::refused_entrances, &Tally::sent_again, &Tally::changes,
          &Tally::boards_compared, &Tally::clients, &Tally::versions, &Tally::refused_yet_kept})
        this->*number += other.*number;
}

/// FNV-1a, the 64-bit one.
void Trace::note(std::int64_t at_ms, std::string line) {
    line = fmt::format("{:.3f} s: {}", static_cast<double>(at_ms) / 1000, line);
    for (auto at = line.find(folder_); at != std::string::npos; at = line.find(folder_, at))
        line.erase(at, folder_.size());
    if (std::getenv("FIELDPEG_TRACE")) std::cerr << line << '\n';
    for (const char c : line) {
        hash_ ^= static_cast<unsigned char>(c);
        hash_ *= 1099511628211ULL;
    }
    last_.push_back(std::move(line));
    if (last_.size() > kept) last_.pop_front();
}

std::string Trace::last_steps() const {
    std::string all;
    for (const auto& line : last_) all += "  " + line.substr(0, 300) + '\n';
    return all;
}

}  // namespace fieldpeg::simulation
