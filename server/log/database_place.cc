#include "server/log/database_place.h"

namespace fieldpeg::log {

bool is_database(std::string_view place) {
    return place.starts_with("postgresql:") || place.starts_with("postgres:");
}

DatabasePlace database_place(std::string_view place) {
    const auto hash = place.rfind('#');
    if (hash == std::string_view::npos) return {std::string(place), ""};
    return {std::string(place.substr(0, hash)), std::string(place.substr(hash + 1))};
}

std::string DatabasePlace::shown() const {
    std::string text = address.substr(0, address.find('?'));
    const auto begin = text.find("//");
    const auto at = text.find('@');
    if (begin != std::string::npos && at != std::string::npos) {
        const auto colon = text.find(':', begin);
        if (colon < at) text.erase(colon, at - colon);
    }
    return day.empty() ? text : text + "#" + day;
}

}  // namespace fieldpeg::log
