#include "server/service/differences.h"

#include <fmt/format.h>

namespace fieldpeg::service {
namespace {

template <class One>
std::string bare(One one) {
    if constexpr (requires { one.clear_claim(); }) one.clear_claim();
    if constexpr (requires { one.clear_id(); }) one.clear_id();
    if constexpr (requires { one.clear_owner_id(); }) one.clear_owner_id();
    return one.SerializeAsString();
}

template <class List>
void compare(const char* what, const List& file, const List& log, std::vector<std::string>& found) {
    const auto named = [](const List& list, const std::string& name) -> decltype(&*list.begin()) {
        for (const auto& one : list)
            if (one.name() == name) return &one;
        return nullptr;
    };
    for (const auto& one : file) {
        const auto* other = named(log, one.name());
        if (!other)
            found.push_back(fmt::format("{} '{}' is in the day file only", what, one.name()));
        else if (bare(one) != bare(*other))
            found.push_back(fmt::format("{} '{}' differs in the day file", what, one.name()));
    }
    for (const auto& one : log)
        if (!named(file, one.name()))
            found.push_back(fmt::format("{} '{}' is in the log only", what, one.name()));
}

}  // namespace

std::vector<std::string> differences(const v1::DaySheet& file, const v1::DaySheet& log) {
    std::vector<std::string> found;
    compare("place", file.field().places(), log.field().places(), found);
    compare("area", file.field().areas(), log.field().areas(), found);
    compare("emitter", file.field().emitters(), log.field().emitters(), found);
    compare("kit", file.kits(), log.kits(), found);
    compare("pilot", file.pilots(), log.pilots(), found);
    compare("relay", file.relays(), log.relays(), found);
    if (file.rules().name() != log.rules().name())
        found.push_back(fmt::format("the rule set is '{}' in the day file, '{}' in the log",
                                    file.rules().name(), log.rules().name()));
    return found;
}

}  // namespace fieldpeg::service
