#include "client/verbs/parts.h"
#include "client/verbs/verb.h"
#include "server/book/names.h"

#include <fmt/format.h>

#include <optional>
#include <string>
#include <utility>

namespace fieldpeg::verbs {
namespace {

struct DaySetOptions {
    Common common;
    book::HeadText head;
    std::string name, date, field, origin, limit, lost_picture;
};

bool set_limit(const std::string& written, book::HeadText& head) {
    if (written.empty()) return true;
    head.is_without_limit = written == "none";
    if (head.is_without_limit) return true;
    head.power_limit_dbm = power_argument("--power-limit", written);
    return head.power_limit_dbm.has_value();
}

int set_head(DaySetOptions options, bool says_lost_picture) {
    auto& head = options.head;
    const auto say = [](const std::string& text, std::optional<std::string>& into) {
        if (!text.empty()) into = text;
    };
    say(options.name, head.name);
    say(options.date, head.date);
    say(options.field, head.field);
    if (says_lost_picture) head.lost_picture = options.lost_picture;
    if (!options.origin.empty() && !(head.origin = position_argument("--origin", options.origin)))
        return bad_input;
    if (head.date && !is_date(*head.date))
        return say_bad_input("--date", fmt::format("'{}' is no date: write 2026-09-19",
                                                   book::printable(*head.date)));
    if (!set_limit(options.limit, head)) return bad_input;
    if (!head.name && !head.date && !head.field && !head.lost_picture && !head.origin &&
        !head.usual_minutes && !head.power_limit_dbm && !head.is_without_limit)
        return say_bad_input("day set", "what? --name, --date, --field and so on");
    return put(options.common, book::toml_of(head));
}

}  // namespace

void add_day_set(Verb& day, Run& run) {
    const auto options = std::make_shared<DaySetOptions>();
    auto verb = day.verb("set", "The marshal: what the day is called, and what holds all day");
    verb.value("--name", options->name, "what the day is called").type_name("TEXT");
    verb.value("--date", options->date, "as 2026-09-19").type_name("DATE");
    verb.value("--field", options->field, "what the field is called").type_name("TEXT");
    verb.value("--origin", options->origin, "where on the map the field's point 0, 0 is")
        .type_name("LAT,LON");
    verb.value("--power-limit", options->limit,
               "the club's own: above it only with the marshal's leave; or none")
        .type_name("POWER");
    verb.value("--usual-minutes", options->head.usual_minutes, "how long a flight usually is")
        .type_name("MINUTES");
    const auto lost = verb.value("--lost-picture", options->lost_picture,
                                 "what the club tells a flier whose picture goes; '' for nothing")
                          .type_name("TEXT");
    add_course(verb, options->common);
    verb.footer(
        "All else stays. The rule set is chosen by 'fieldpeg rules', places by 'fieldpeg field'.\n"
        "Examples:\n"
        "  fieldpeg day set --name 'Harvest fly-in'\n"
        "  fieldpeg day set --power-limit 200mW --usual-minutes 6");
    verb.callback([options, lost, &run] {
        const bool says = lost.is_given();
        run = [options, says] { return set_head(*options, says); };
    });
}

}  // namespace fieldpeg::verbs
