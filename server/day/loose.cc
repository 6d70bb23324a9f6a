#include "server/day/loose.h"

#include "server/day/state.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::day {
namespace {

template <class List>
auto find_named(const List& list, const std::string& name) -> decltype(&*list.begin()) {
    const auto found =
        std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
    return found == list.end() ? nullptr : &*found;
}

class Search {
public:
    explicit Search(const v1::DaySheet& sheet) : sheet_(sheet) {}

    std::optional<Loose> run() {
        for (const auto& p : sheet_.pilots()) look_at(p);
        for (const auto& r : sheet_.relays()) {
            if (!pilot(sheet_, r.owner())) tell(r.name(), "whose owner is", r.owner());
            place(r.name(), r.place());
            receivers(r.name(), r.receivers(), "");
        }
        for (const auto& e : sheet_.field().emitters()) place(e.name(), e.place());
        for (const auto& s : sheet_.sightings()) {
            place("a sighting", s.place());
            area("a sighting", s.area());
        }
        return std::move(found_);
    }

private:
    void look_at(const v1::Pilot& p) {
        for (const auto& name :
             {p.place(), p.bench_place(), p.handset().place(), p.uplink().place()})
            place(p.name(), name);
        area(p.name(), p.area());
        receivers(p.name(), p.receivers(), p.name());
    }

    template <class List>
    void receivers(const std::string& who, const List& list, const std::string& pilot) {
        for (const auto& receiver : list) {
            place(who, receiver.place());
            const auto& hears = receiver.hears();
            if (!pilot.empty() && !hears.empty() && hears != "video" && !relay(sheet_, hears))
                tell(who, "which hears", hears);
        }
    }

    void place(const std::string& who, const std::string& name) {
        if (!name.empty() && !find_named(sheet_.field().places(), name))
            tell(who, "which is at", name);
    }
    void area(const std::string& who, const std::string& name) {
        if (!name.empty() && !find_named(sheet_.field().areas(), name))
            tell(who, "which flies in", name);
    }

    void tell(const std::string& who, const char* how, const std::string& what) {
        if (!found_)
            found_ = Loose{who, fmt::format("{} '{}', would be without it", how, what), what};
    }

    const v1::DaySheet& sheet_;
    std::optional<Loose> found_;
};

}  // namespace

std::optional<Loose> find_loose(const v1::DaySheet& sheet) {
    return Search(sheet).run();
}

}  // namespace fieldpeg::day
