#include "server/day/deciding.h"
#include "server/day/differences.h"
#include "server/day/loose.h"
#include "server/day/refit.h"
#include "server/day/words.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <set>
#include <string>
#include <utility>
#include <vector>

/// A day file that was corrected after the log began, taken over: all of it or what is called so.
namespace fieldpeg::day {
namespace {

template <class List>
auto named(const List& list, const std::string& name) -> decltype(&*list.begin()) {
    const auto found =
        std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
    return found == list.end() ? nullptr : &*found;
}

class Taking {
public:
    Taking(const Given& given, const TakeDay& take)
        : given_(given), asked_(take.asked), file_(take.file) {}

    Decided decide() {
        for (auto& one : differences(given_.sheet(), file_))
            if (is_meant(one)) *reply().add_differences() = std::move(one);
        if (reply().differences().empty()) return std::move(decided_);
        for (const auto& one : reply().differences())
            if (one.word() == v1::Difference::gone) leave(one);
        if (auto why = still_there()) return refuse(*std::move(why));
        add_events();
        after_ = day::after(given_, events());
        if (const auto loose = find_loose(after_.sheet()))
            return refuse(conflict(
                loose->who, loose->why,
                fmt::format("take all of the file over, or --only '{}' first", loose->what)));
        refit();
        if (!asked_.yes_anyway()) {
            events().clear();
            return std::move(decided_);
        }
        reply().set_taken(true);
        if (!changed_.empty()) decided_.cause.emplace().id = changed_.front();
        return std::move(decided_);
    }

private:
    v1::TakeReply& reply() { return *decided_.decision.reply.mutable_take(); }
    std::vector<v1::Event>& events() { return decided_.decision.events; }

    Decided refuse(v1::Refusal why) {
        events().clear();
        *reply().mutable_refusal() = std::move(why);
        return std::move(decided_);
    }

    /// What has no name is called by its kind: "day", "rules".
    bool is_meant(const v1::Difference& of) const {
        return asked_.only().empty() ||
               (of.name().empty() ? of.kind() : of.name()) == asked_.only();
    }

    bool differs(const std::string& kind) {
        return std::ranges::find(reply().differences(), kind, &v1::Difference::kind) !=
               reply().differences().end();
    }

    void leave(const v1::Difference& of) {
        if (of.kind() == "place") gone_.add_places(of.name());
        if (of.kind() == "area") gone_.add_areas(of.name());
        if (of.kind() == "kit") gone_.add_kits(of.name());
        if (of.kind() == "emitter") gone_.add_ids(emitter(given_.sheet(), of.name())->id());
        if (of.kind() == "relay") leave(relay(given_.sheet(), of.name())->id());
        if (of.kind() != "pilot") return;
        const auto id = pilot(given_.sheet(), of.name())->id();
        leave(id);
        for (const auto& r : given_.sheet().relays())  // with whom it goes
            if (r.owner_id() == id && !named(file_.relays(), r.name())) leave(r.id());
    }

    void leave(std::uint32_t id) {
        if (std::ranges::find(gone_.ids(), id) == gone_.ids().end()) gone_.add_ids(id);
    }

    /// Who is gone from the file and holds a channel, or is on the air.
    std::optional<v1::Refusal> still_there() const {
        std::vector<std::string> names;
        for (const auto id : gone_.ids()) {
            const auto held = holder(given_.sheet(), id);
            if (held && held->claim)
                names.push_back(fmt::format("{} {} {}", held->name,
                                            held->radiates() ? "is on" : "holds",
                                            channel_text(held->claim->channel())));
        }
        if (names.empty()) return std::nullopt;
        return conflict(asked_.file(),
                        fmt::format("leaves out who is still needed: {}", fmt::join(names, ", ")),
                        "write them into the file, or first off and release; or take the rest "
                        "over one by one: --only NAME");
    }

    template <class List, class Into>
    void put(const char* kind, const List& from, Into* into) {
        for (const auto& of : reply().differences())
            if (of.kind() == kind && of.word() != v1::Difference::gone)
                *into->Add() = *named(from, of.name());
    }

    /// What the day lacks goes along; what it has otherwise only if that is meant.
    template <class List, class Into>
    void put_gear(const char* kind, const List& from, const List& known, Into* into) {
        put(kind, from, into);
        for (const auto& one : from)
            if (!named(known, one.name())) *into->Add() = one;
    }

    v1::PartsPut parts() {
        v1::PartsPut parts;
        put("place", file_.field().places(), parts.mutable_places());
        put("area", file_.field().areas(), parts.mutable_areas());
        put("emitter", file_.field().emitters(), parts.mutable_emitters());
        put("kit", file_.kits(), parts.mutable_kits());
        put("pilot", file_.pilots(), parts.mutable_pilots());
        put("relay", file_.relays(), parts.mutable_relays());
        auto& gear = *parts.mutable_gear();
        const auto& day = given_.sheet();
        put_gear("emission", file_.emissions(), day.emissions(), gear.mutable_emissions());
        put_gear("receiver", file_.receiver_profiles(), day.receiver_profiles(),
                 gear.mutable_receiver_profiles());
        put_gear("antenna", file_.antennas(), day.antennas(), gear.mutable_antennas());
        put_gear("control link", file_.control_links(), day.control_links(),
                 gear.mutable_control_links());
        put_gear("positioning receiver", file_.positioning_receivers(), day.positioning_receivers(),
                 gear.mutable_positioning_receivers());
        if (gear.ByteSizeLong() == 0) parts.clear_gear();
        return with_ids(given_, std::move(parts));
    }

    /// The services to keep clear of stand in it.
    void add_head() {
        const bool is_head = differs("day"), are_services = differs("services");
        if (!is_head && !are_services) return;
        auto head = head_of(is_head ? file_ : given_.sheet());
        *head.mutable_services() = (are_services ? file_ : given_.sheet()).services();
        *events().emplace_back().mutable_head_set() = std::move(head);
    }

    void add_events() {
        add_head();
        if (differs("rules")) {
            auto& event = *events().emplace_back().mutable_rules_set();
            if (file_.has_rules()) *event.mutable_rules() = file_.rules();
        }
        auto put = parts();
        for_each_holder(std::as_const(put), [&](const auto& one) { changed_.push_back(one.id()); });
        add_users();
        if (put.ByteSizeLong() > 0) *events().emplace_back().mutable_parts_put() = std::move(put);
        if (gone_.ByteSizeLong() > 0) *events().emplace_back().mutable_parts_gone() = gone_;
    }

    /// Who has gear that is written otherwise now is as changed as if they had other gear.
    void add_users() {
        std::set<std::string> gear;
        for (const auto& of : reply().differences())
            if (of.kind() == "emission" || of.kind() == "receiver" || of.kind() == "antenna")
                gear.insert(of.name());
        if (gear.empty()) return;
        for_each_holder(given_.sheet(), [&](const auto& one) {
            const auto held = holder(given_.sheet(), one.id());
            const bool sends = held->gear && (gear.contains(held->gear->emission()) ||
                                              gear.contains(held->gear->mounting().antenna()));
            const bool hears = std::ranges::any_of(one.receivers(), [&](const auto& receiver) {
                return gear.contains(receiver.receiver()) ||
                       gear.contains(receiver.mounting().antenna());
            });
            const bool known = std::ranges::find(changed_, one.id()) != changed_.end();
            if ((sends || hears) && !known) changed_.push_back(one.id());
        });
    }

    void refit() {
        std::vector<std::uint32_t> everybody;
        for_each_holder(std::as_const(after_).sheet(),
                        [&](const auto& one) { everybody.push_back(one.id()); });
        Refit refit(given_, after_.sheet(), changed_, everybody);
        if (differs("day")) refit.give_back_above_limit(decided_.decision);
        refit.give_back(decided_.decision);
        for (const auto& event : events()) {
            if (!event.has_released()) continue;
            const auto held = holder(given_.sheet(), event.released().subject());
            reply().add_follows(fmt::format("{} gives {} back: {}", held->name,
                                            channel_text(held->claim->channel()),
                                            event.released().reason()));
        }
        for (auto& best : best_now(given_, decided_.decision, everybody))
            reply().add_follows(std::move(best));
    }

    const Given& given_;
    const v1::TakeDay& asked_;
    const v1::DaySheet& file_;
    v1::PartsGone gone_;
    v1::DayState after_;
    std::vector<std::uint32_t> changed_;
    Decided decided_;
};

}  // namespace

Decided decide_take(const Given& given, const TakeDay& take) {
    if (auto wrong = refused_unread(given.actor, v1::Command::kTakeDay))
        return refused(*std::move(wrong));
    return Taking(given, take).decide();
}

}  // namespace fieldpeg::day
