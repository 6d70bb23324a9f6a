#include "server/day/differences.h"

#include "server/day/words.h"

#include <fmt/format.h>
#include <google/protobuf/descriptor.h>
#include <google/protobuf/message.h>
#include <google/protobuf/reflection.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <string_view>
#include <utility>

namespace fieldpeg::day {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;

constexpr std::string_view nothing = "none";
/// Longer texts are not worth a line.
constexpr std::size_t text_shown_max = 100;

/// What the day alone knows, and what says nothing that is not said elsewhere.
bool is_left_out(const FieldDescriptor& field) {
    static const std::set<std::string_view> names{"id",         "owner_id", "claim",
                                                  "last_group", "defaults", "services"};
    return names.contains(field.name());
}

/// What a part is called before what it is made of; empty: it goes without saying.
std::string part_name(const FieldDescriptor& field) {
    const std::string_view name = field.name();
    if (name == "video" || name == "mounting" || name == "transmitter") return "";
    if (name == "uplink") return "ground side";
    std::string text(name);
    std::ranges::replace(text, '_', ' ');
    return text;
}

/// The last word of a name is its unit.
struct Unit {
    std::string_view suffix, text;
};
constexpr std::array units{Unit{"_dbm", " dBm"}, Unit{"_dbi", " dBi"}, Unit{"_db", " dB"},
                           Unit{"_mhz", " MHz"}, Unit{"_deg", "°"},    Unit{"_m", " m"}};

const Unit* unit_of(std::string_view name) {
    const auto* found =
        std::ranges::find_if(units, [&](const Unit& unit) { return name.ends_with(unit.suffix); });
    return found == units.end() ? nullptr : found;
}

std::string value_name(const FieldDescriptor& field) {
    std::string_view name = field.name();
    if (const auto* unit = unit_of(name)) name.remove_suffix(unit->suffix.size());
    std::string text(name);
    std::ranges::replace(text, '_', ' ');
    return text;
}

/// As it is told, or so that no two others look alike.
enum class Form { told, exact };

std::string number_text(const FieldDescriptor& field, double value, Form form) {
    if (form == Form::exact) return fmt::format("{}", value);
    const std::string_view name = field.name();
    const auto* unit = unit_of(name);
    const bool is_power =
        name.ends_with("_dbm") && (name.starts_with("power") || name.starts_with("bench") ||
                                   name.starts_with("measured") || name.starts_with("eirp"));
    if (is_power) return power_text(value);
    const bool is_on_map = name == "latitude_deg" || name == "longitude_deg";
    if (is_on_map) return fmt::format("{}{}", std::round(value * 1e6) / 1e6, unit->text);
    return fmt::format("{}{}", milli(value), unit ? unit->text : "");
}

/// One value of a field, the i-th of a list.
std::string one_text(const Message& message, const FieldDescriptor& field, int i, Form form) {
    const auto* access = message.GetReflection();
    const bool is_list = field.is_repeated();
    switch (field.cpp_type()) {
        case FieldDescriptor::CPPTYPE_DOUBLE:
            return number_text(field,
                               is_list ? access->GetRepeatedDouble(message, &field, i)
                                       : access->GetDouble(message, &field),
                               form);
        case FieldDescriptor::CPPTYPE_BOOL:
            return access->GetBool(message, &field) ? "yes" : "no";
        case FieldDescriptor::CPPTYPE_ENUM: {
            const auto* value = access->GetEnum(message, &field);
            return value->number() == 0 ? std::string(nothing) : value->name();
        }
        case FieldDescriptor::CPPTYPE_STRING: {
            auto text = is_list ? access->GetRepeatedString(message, &field, i)
                                : access->GetString(message, &field);
            return text.empty() ? std::string(nothing) : text;
        }
        case FieldDescriptor::CPPTYPE_MESSAGE: {
            const auto& part = is_list ? access->GetRepeatedMessage(message, &field, i)
                                       : access->GetMessage(message, &field);
            const auto* channel = dynamic_cast<const v1::Channel*>(&part);
            return channel && form == Form::told ? channel->name() : part.ShortDebugString();
        }
        default:
            return fmt::format("{}", access->GetUInt32(message, &field));
    }
}

std::string text_of(const Message& message, const FieldDescriptor& field, Form form) {
    const auto* access = message.GetReflection();
    if (!field.is_repeated()) {
        if (field.has_presence() && !access->HasField(message, &field)) return std::string(nothing);
        return one_text(message, field, 0, form);
    }
    std::vector<std::string> all;
    all.reserve(static_cast<std::size_t>(access->FieldSize(message, &field)));
    for (int i = 0; i < access->FieldSize(message, &field); ++i)
        all.push_back(one_text(message, field, i, form));
    return all.empty() ? std::string(nothing) : fmt::format("{}", fmt::join(all, ", "));
}

/// Two of one kind held against each other, field by field, so that none can be forgotten.
class Comparing {
public:
    explicit Comparing(v1::Difference& into) : into_(into) {}

    // NOLINTNEXTLINE(misc-no-recursion): as deep as the messages are nested
    void compare(const Message& was, const Message& is, const std::string& part) {
        const auto& type = *was.GetDescriptor();
        for (int i = 0; i < type.field_count(); ++i)
            if (const auto& field = *type.field(i); !is_left_out(field))
                compare(was, is, part, field);
    }

private:
    static std::string inside(const std::string& part, const std::string& what) {
        if (part.empty() || what.empty()) return part + what;
        return part + ": " + what;
    }

    // NOLINTNEXTLINE(misc-no-recursion): as above
    void compare(const Message& was, const Message& is, const std::string& part,
                 const FieldDescriptor& field) {
        const auto* type = field.message_type();  // null: no message
        if (type == v1::Receiver::descriptor()) return receivers(was, is, part, field);
        const bool is_part = type && type != v1::Channel::descriptor() && !field.is_repeated();
        if (is_part) return parts(was, is, part, field);
        const auto exactly = text_of(was, field, Form::exact);
        const auto exactly_now = text_of(is, field, Form::exact);
        if (exactly == exactly_now) return;
        const auto before = text_of(was, field, Form::told), after = text_of(is, field, Form::told);
        if (before != after)
            add(inside(part, value_name(field)), before, after);
        else
            add(inside(part, value_name(field)), exactly, exactly_now);
    }

    // NOLINTNEXTLINE(misc-no-recursion): as above
    void parts(const Message& was, const Message& is, const std::string& part,
               const FieldDescriptor& field) {
        const auto* access = was.GetReflection();
        const bool had = access->HasField(was, &field), has = access->HasField(is, &field);
        auto name = inside(part, part_name(field));
        if (had && has)
            compare(access->GetMessage(was, &field), access->GetMessage(is, &field), name);
        else if (had != has)
            add(name.empty() ? field.name() : name, had ? "there" : nothing,
                has ? "there" : nothing);
    }

    /// Each by its name.
    // NOLINTNEXTLINE(misc-no-recursion): as above
    void receivers(const Message& was, const Message& is, const std::string& part,
                   const FieldDescriptor& field) {
        const auto* access = was.GetReflection();
        const auto before = access->GetRepeatedFieldRef<v1::Receiver>(was, &field);
        const auto after = access->GetRepeatedFieldRef<v1::Receiver>(is, &field);
        const std::vector<v1::Receiver> old(before.begin(), before.end());
        const std::vector<v1::Receiver> now(after.begin(), after.end());
        for (const auto& one : now) {
            const auto other = std::ranges::find(old, one.name(), &v1::Receiver::name);
            if (other == old.end())
                add(inside(part, one.name()), nothing, "there");
            else
                compare(*other, one, inside(part, one.name()));
        }
        for (const auto& one : old)
            if (std::ranges::find(now, one.name(), &v1::Receiver::name) == now.end())
                add(inside(part, one.name()), "there", nothing);
    }

    void add(std::string what, std::string_view was, std::string_view is) {
        auto& change = *into_.add_changes();
        change.set_what(std::move(what));
        for (const auto text : {was, is})
            if (text.size() > text_shown_max || text.find('\n') != text.npos) return;
        change.set_was(std::string(was));
        change.set_is(std::string(is));
    }

    v1::Difference& into_;
};

/// Of one kind of thing, told apart by their names.
class Differing {
public:
    explicit Differing(std::vector<v1::Difference>& into) : into_(into) {}

    template <class List>
    void all(const char* kind, const List& day, const List& file) {
        both(kind, day, file);
        for (const auto& one : file)
            if (!named(day, one.name())) add(kind, one.name(), v1::Difference::added);
        for (const auto& one : day)
            if (!named(file, one.name())) add(kind, one.name(), v1::Difference::gone);
    }

    template <class List>
    void both(const char* kind, const List& day, const List& file) {
        for (const auto& one : file)
            if (const auto* other = named(day, one.name())) compare(kind, one.name(), *other, one);
    }

    void compare(const char* kind, const std::string& name, const Message& day,
                 const Message& file) {
        v1::Difference difference;
        Comparing(difference).compare(day, file, "");
        if (difference.changes().empty()) return;
        difference.set_kind(kind);
        difference.set_name(name);
        difference.set_word(v1::Difference::changed);
        into_.push_back(std::move(difference));
    }

private:
    template <class List>
    static auto named(const List& list, const std::string& name) -> decltype(&*list.begin()) {
        const auto found =
            std::ranges::find_if(list, [&](const auto& one) { return one.name() == name; });
        return found == list.end() ? nullptr : &*found;
    }

    void add(const char* kind, const std::string& name, v1::Difference::Word word) {
        auto& difference = into_.emplace_back();
        difference.set_kind(kind);
        difference.set_name(name);
        difference.set_word(word);
    }

    std::vector<v1::Difference>& into_;
};

void compare_rules(const v1::DaySheet& day, const v1::DaySheet& file, Differing& differing,
                   std::vector<v1::Difference>& into) {
    if (day.rules().name() == file.rules().name())
        return differing.compare("rules", "", day.rules(), file.rules());
    auto& difference = into.emplace_back();
    difference.set_kind("rules");
    difference.set_word(v1::Difference::changed);
    const auto name = [](const v1::DaySheet& sheet) {
        return sheet.has_rules() ? sheet.rules().name() : std::string(nothing);
    };
    auto& change = *difference.add_changes();
    change.set_was(name(day));
    change.set_is(name(file));
}

/// Several may have one name: a service has many bands.
void compare_services(const v1::DaySheet& day, const v1::DaySheet& file,
                      std::vector<v1::Difference>& into) {
    v1::Difference difference;
    difference.set_kind("services");
    difference.set_word(v1::Difference::changed);
    const auto add_missing = [&](const auto& from, const auto& in, auto was, auto is) {
        for (const auto& one : from) {
            if (std::ranges::any_of(in, [&](const v1::Service& other) {
                    return other.SerializeAsString() == one.SerializeAsString();
                }))
                continue;
            auto& change = *difference.add_changes();
            change.set_what(fmt::format("{}, {}-{} MHz", one.name(), mhz_text(one.low_mhz()),
                                        mhz_text(one.high_mhz())));
            change.set_was(std::string(was));
            change.set_is(std::string(is));
        }
    };
    add_missing(day.services(), file.services(), "there", nothing);
    add_missing(file.services(), day.services(), nothing, "there");
    if (!difference.changes().empty()) into.push_back(std::move(difference));
}

}  // namespace

v1::HeadSet head_of(const v1::DaySheet& sheet) {
    v1::HeadSet head;
    head.set_name(sheet.name());
    head.set_date(sheet.date());
    head.set_field_name(sheet.field().name());
    if (sheet.field().has_latitude_deg()) head.set_latitude_deg(sheet.field().latitude_deg());
    if (sheet.field().has_longitude_deg()) head.set_longitude_deg(sheet.field().longitude_deg());
    if (sheet.has_power_limit_dbm()) head.set_power_limit_dbm(sheet.power_limit_dbm());
    head.set_usual_minutes(sheet.usual_minutes());
    head.set_lost_picture(sheet.lost_picture());
    *head.mutable_services() = sheet.services();
    return head;
}

std::vector<v1::Difference> differences(const v1::DaySheet& day, const v1::DaySheet& file) {
    std::vector<v1::Difference> found;
    Differing differing(found);
    differing.compare("day", "", head_of(day), head_of(file));
    compare_rules(day, file, differing, found);
    compare_services(day, file, found);
    differing.all("place", day.field().places(), file.field().places());
    differing.all("area", day.field().areas(), file.field().areas());
    differing.all("emitter", day.field().emitters(), file.field().emitters());
    differing.all("kit", day.kits(), file.kits());
    differing.both("emission", day.emissions(), file.emissions());
    differing.both("receiver", day.receiver_profiles(), file.receiver_profiles());
    differing.both("antenna", day.antennas(), file.antennas());
    differing.both("control link", day.control_links(), file.control_links());
    differing.both("positioning receiver", day.positioning_receivers(),
                   file.positioning_receivers());
    differing.all("pilot", day.pilots(), file.pilots());
    differing.all("relay", day.relays(), file.relays());
    return found;
}

std::string difference_text(const v1::Difference& of) {
    const auto what = of.name().empty() ? of.kind() : fmt::format("{} {}", of.kind(), of.name());
    if (of.word() == v1::Difference::added) return what + ": new";
    if (of.word() == v1::Difference::gone) return what + ": gone";
    std::vector<std::string> changes;
    for (const auto& change : of.changes()) {
        if (change.was().empty() && change.is().empty())
            changes.push_back(change.what() + " differs");
        else
            changes.push_back(fmt::format("{}{}{} -> {}", change.what(),
                                          change.what().empty() ? "" : " ", change.was(),
                                          change.is()));
    }
    return fmt::format("{}: {}", what, fmt::join(changes, "; "));
}

}  // namespace fieldpeg::day
