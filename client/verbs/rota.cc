#include "client/show/json.h"
#include "client/show/plan.h"
#include "client/verbs/planned.h"

#include <algorithm>
#include <optional>

namespace fieldpeg::verbs {
namespace {

struct RotaOptions {
    Common common;
    PlanFlags flags;
    std::optional<unsigned> groups, size;
    unsigned round = 1;
    std::vector<std::string> apart, together;
    std::string form = "table";
};

/// "Ann+Ben", or "Ann+Ben+Cem" for every two of them.
bool set_pairs(const char* flag, const std::vector<std::string>& written,
               google::protobuf::RepeatedPtrField<v1::NamePair>& pairs) {
    for (const auto& text : written) {
        std::vector<std::string> names(1);
        for (const char c : text) {
            if (c == '+')
                names.emplace_back();
            else
                names.back() += c;
        }
        if (names.size() < 2 || std::ranges::find(names, "") != names.end()) {
            say_bad_input(flag, "write two names or more with + between: Ann+Ben");
            return false;
        }
        for (std::size_t a = 0; a < names.size(); ++a) {
            for (std::size_t b = a + 1; b < names.size(); ++b) {
                auto& pair = *pairs.Add();
                pair.set_a(names[a]);
                pair.set_b(names[b]);
            }
        }
    }
    return true;
}

std::string text_of(const v1::RotaReply& reply, const RotaOptions& options) {
    if (options.common.json) return show::json_text(reply);
    if (options.form == "csv") return show::rota_csv(reply);
    return show::rota_text(reply, show::look_of_stdout());
}

int rota(const RotaOptions& options) {
    if (options.round == 0) return say_bad_input("--round", "the first round is 1");
    if (options.size == 0U)
        return say_bad_input("--size", "a group has at least one pilot: from 1, or leave it out");
    v1::Query query;
    auto& ask = *query.mutable_rota();
    set_planned(options.flags, ask);
    if (!set_pairs("--apart", options.apart, *ask.mutable_apart()) ||
        !set_pairs("--together", options.together, *ask.mutable_together()))
        return bad_input;
    if (options.groups) ask.set_groups_max(*options.groups);
    if (options.size) ask.set_size_max(*options.size);
    ask.set_round(options.round - 1);
    const auto [link, status] = open_plan(options.common, options.flags);
    if (!link) return status;
    const auto answer = ask_long(*link, query);
    if (answer.has_refusal()) return say_refusal(answer.refusal());
    const auto& reply = answer.rota();
    if (!(options.flags.apply && options.common.json) && !print(text_of(reply, options)))
        return failed;
    if (options.flags.apply) {
        std::vector<v1::PlanChoice> all;
        for (const auto& group : reply.groups())
            all.insert(all.end(), group.choices().begin(), group.choices().end());
        return give_out(*link, all, options.flags, options.common.json);
    }
    const bool trouble = std::ranges::any_of(
        reply.groups(), [](const auto& group) { return any_in_trouble(group.choices()); });
    return trouble || !reply.control().empty() ? refused : done;
}

}  // namespace

void add_rota(Verb& program, Run& run) {
    const auto options = std::make_shared<RotaOptions>();
    auto verb = program.verb("rota", "The fewest flight groups, and the channels of each");
    add_day(verb, options->common);
    add_as(verb, options->common);
    add_plan_flags(verb, options->flags);
    verb.value("--groups", options->groups, "at most N groups").type_name("N");
    verb.value("--size", options->size, "at most N pilots in a group").type_name("N");
    verb.value("--apart", options->apart,
               "never in one group, such as those who share gear: Ann+Ben")
        .type_name("NAMES");
    verb.value("--together", options->together, "in one group: Ann+Ben").type_name("NAMES");
    verb.value("--round", options->round, "which round of the day: each begins with another group")
        .type_name("N")
        .shows_default();
    verb.value("--form", options->form, "table, or csv for a spreadsheet")
        .type_name("FORM")
        .one_of({"table", "csv"});
    add_json(verb, options->common);
    verb.footer(
        "First the fewest groups, then sizes that differ by at most one, then the fewest changes "
        "to\n"
        "what is held, then the best worst margin. Who does not reach --margin even alone is "
        "named\n"
        "and left aside. A relay flies with its owner. For each group you are told who may stand "
        "on\n"
        "the bench, at bench power, while the group before it flies, and who must be unplugged.\n"
        "Exit status 3: control of an aircraft is at risk, somebody is shaky or in a clash, or\n"
        "nobody has a rota that reaches --margin.\n"
        "Examples:\n"
        "  fieldpeg rota --day saturday.toml\n"
        "  fieldpeg rota --apart Ann+Ben --together Cem+Dee --margin 2\n"
        "  fieldpeg rota --size 5\n"
        "  fieldpeg rota --form csv > saturday.csv\n"
        "  fieldpeg rota --apply");
    verb.callback([options, &run] { run = [options] { return rota(*options); }; });
}

}  // namespace fieldpeg::verbs
