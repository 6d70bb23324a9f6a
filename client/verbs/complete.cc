#include "client/link/in_process.h"
#include "client/link/memberships.h"
#include "client/link/remote.h"
#include "client/verbs/guides.h"
#include "client/verbs/program.h"
#include "client/verbs/verb.h"
#include "server/book/library.h"

#include <fmt/format.h>

#include <algorithm>
#include <memory>
#include <optional>
#include <set>

/// What may stand where a shell's cursor is, by the one definition of the command line and the day
/// that was joined. Whatever goes wrong, it says nothing: a shell has no place for it.
namespace fieldpeg::verbs {
namespace {

using namespace std::chrono_literals;

/// A shell waits for it.
constexpr link::Patience quick{250ms, 600ms, 600ms, 600ms};
/// In the place of a candidate: the shell names files.
constexpr const char* files = "@files";

struct Candidate {
    std::string word, what;
};

/// Where the last of the words stands.
struct Place {
    const Program* at = nullptr;
    const Flag* value_of = nullptr;  ///< it is a value of this flag
    std::size_t by_place = 0;        ///< so many values stand before it
    std::string day;                 ///< --day FILE
};

const Flag* flag_of(const Program& program, const std::string& word) {
    const auto found = std::ranges::find_if(program.flags, [&](const Flag& flag) {
        return !flag.by_place && std::ranges::find(flag.names, word) != flag.names.end();
    });
    return found == program.flags.end() ? nullptr : &*found;
}

Place place_of(const Program& program, const std::vector<std::string>& words) {
    Place place{&program, nullptr, 0, ""};
    for (std::size_t i = 0; i + 1 < words.size(); ++i) {
        const auto& word = words[i];
        if (place.value_of) {
            if (word != "-" && flag_of(*place.at, "--day") == place.value_of) place.day = word;
            place.value_of = nullptr;
        } else if (word.starts_with("-")) {
            const auto* flag = flag_of(*place.at, word);
            place.value_of = flag && !flag->value.empty() ? flag : nullptr;
        } else if (const auto* verb = place.by_place == 0 ? place.at->verb(word) : nullptr) {
            place.at = verb;
        } else {
            ++place.by_place;
        }
    }
    return place;
}

std::optional<v1::DaySheet> sheet(const std::string& day) {
    v1::Query query;
    query.mutable_day();
    if (!day.empty()) {
        book::Problems problems;
        const auto link = link::open_day(day, problems);
        return link ? std::optional(link->ask(query).day().sheet()) : std::nullopt;
    }
    const auto joined = link::membership("");
    if (!joined) return std::nullopt;
    const auto answer = link::Remote(*joined, quick).ask(query);
    return answer.has_day() ? std::optional(answer.day().sheet()) : std::nullopt;
}

std::vector<Candidate> channels(const v1::DaySheet& day) {
    std::vector<Candidate> all{{"best", "the one that leaves everybody the most margin"}};
    for (const auto& row : book::library().rows())
        for (const auto& channel : row.channels()) {
            if (row.name().empty()) continue;
            std::string held;
            for (const auto& pilot : day.pilots())
                if (pilot.claim().channel().name() == channel.name())
                    held = ", held by " + pilot.name();
            all.push_back({channel.name(), fmt::format("{:g} MHz{}", channel.mhz(), held)});
        }
    return all;
}

std::vector<Candidate> names(const v1::DaySheet& day) {
    std::vector<Candidate> all;
    for (const auto& pilot : day.pilots()) all.push_back({pilot.name(), "pilot"});
    for (const auto& relay : day.relays())
        all.push_back({relay.name(), "relay of " + relay.owner()});
    return all;
}

std::vector<Candidate> groups(const v1::DaySheet& day) {
    std::set<unsigned> numbers;
    for (const auto& pilot : day.pilots()) numbers.insert(pilot.claim().group());
    std::vector<Candidate> all;
    for (const auto number : numbers)
        if (number != 0) all.push_back({std::to_string(number), "flight group"});
    return all;
}

std::vector<Candidate> topics() {
    std::vector<Candidate> all;
    for (const auto& guide : guides()) all.push_back({std::string(guide.topic), "guide"});
    for (const auto& verb : described().verbs) all.push_back({verb.name, verb.what});
    return all;
}

std::vector<Candidate> values_of(const Flag& flag, const std::string& day) {
    std::vector<Candidate> all;
    for (const auto& choice : flag.choices) all.push_back({choice, ""});
    if (!all.empty()) return all;
    // A value by its place is called what it is.
    const auto& kind = flag.by_place ? flag.names.front() : flag.value;
    const bool is_group =
        std::ranges::find(flag.names, "--group") != flag.names.end() || kind == "GROUP";
    if (kind == "FILE" || kind == "NEW") return {{files, ""}};
    if (kind == "TOPIC") return topics();
    if (kind == "POWER") return {{"25mW", ""}, {"200mW", ""}, {"500mW", ""}, {"800mW", ""}};
    if (kind != "NAME" && kind != "NAMES" && kind != "PILOT" && kind != "CHANNEL" &&
        kind != "PLACE" && kind != "AREA" && !is_group)
        return {};
    const auto known = sheet(day);
    if (kind == "CHANNEL") return channels(known.value_or(v1::DaySheet()));
    if (!known) return {};
    if (is_group) return groups(*known);
    if (kind == "PLACE")
        for (const auto& place : known->field().places()) all.push_back({place.name(), "place"});
    else if (kind == "AREA")
        for (const auto& area : known->field().areas()) all.push_back({area.name(), "flying area"});
    else
        all = names(*known);
    return all;
}

std::vector<Candidate> candidates(const Program& program, const std::vector<std::string>& words) {
    const auto place = place_of(program, words);
    if (place.value_of) return values_of(*place.value_of, place.day);
    std::vector<Candidate> all;
    if (words.back().starts_with("-")) {
        for (const auto& flag : place.at->flags)
            if (!flag.by_place) all.push_back({flag.names.back(), flag.what});
        return all;
    }
    if (place.by_place == 0)
        for (const auto& verb : place.at->verbs) all.push_back({verb.name, verb.what});
    std::size_t at = 0;
    for (const auto& flag : place.at->flags) {
        if (!flag.by_place) continue;
        if (at == place.by_place || (flag.is_many && at < place.by_place))
            for (auto& one : values_of(flag, place.day)) all.push_back(std::move(one));
        ++at;
    }
    return all;
}

/// Names are matched as they are meant, not as they are written.
bool begins(const std::string& word, const std::string& with) {
    const auto is_same = [](char a, char b) {
        return std::tolower(static_cast<unsigned char>(a)) ==
               std::tolower(static_cast<unsigned char>(b));
    };
    return word.size() >= with.size() &&
           std::equal(with.begin(), with.end(), word.begin(), is_same);
}

}  // namespace

void add_complete(Verb& program, Run& run) {
    auto verb =
        program.verb("complete", "for shells: what may stand in the place of the last word");
    verb.hide();
    const auto words = std::make_shared<std::vector<std::string>>();
    verb.value("WORD", *words, "of the command line, behind --");
    verb.callback([words, &run] {
        run = [words] {
            if (words->empty()) words->emplace_back();
            // A shell that ends words with a mark of its own, since none may be empty.
            if (words->back() == ":") words->back().clear();
            std::string text;
            for (const auto& [word, what] : candidates(described(), *words))
                if (word == files || begins(word, words->back()))
                    text += fmt::format("{}\t{}\n", word, what.substr(0, what.find('\n')));
            if (!text.empty()) print(text);
            return done;
        };
    });
}

}  // namespace fieldpeg::verbs
