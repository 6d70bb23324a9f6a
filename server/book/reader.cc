#include "server/book/reader.h"

#include "server/book/names.h"
#include "server/book/toml_depth.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <sstream>

namespace fieldpeg::book {
namespace {

std::string range_text(const Range& range) {
    const std::string unit = range.unit.empty() ? "" : fmt::format(" {}", range.unit);
    return fmt::format("a number from {:g} to {:g}{}", range.low, range.high, unit);
}

std::string kind_of(const toml::node& node) {
    switch (node.type()) {
        case toml::node_type::table:
            return "a table";
        case toml::node_type::array:
            return "an array";
        case toml::node_type::string:
            return "a text";
        case toml::node_type::integer:
        case toml::node_type::floating_point:
            return "a number";
        case toml::node_type::boolean:
            return "true or false";
        case toml::node_type::date:
        case toml::node_type::time:
        case toml::node_type::date_time:
            return "a date or time";
        case toml::node_type::none:
            break;
    }
    return "nothing";
}

unsigned line(const toml::node& node) {
    return static_cast<unsigned>(node.source().begin.line);
}

}  // namespace

Reader::Reader(const toml::table& table, std::string file, std::string where, Problems& problems)
    : table_(table), file_(std::move(file)), where_(std::move(where)), problems_(problems) {}

unsigned Reader::line_of(std::string_view key) const {
    const auto* found = table_.get(key);
    return line(found ? *found : static_cast<const toml::node&>(table_));
}

void Reader::problem(std::string_view key, std::string what, std::string expected,
                     std::string suggestion) {
    std::string place = where_;
    if (!key.empty()) place += (place.empty() ? "" : ", ") + printable(key);
    problems_.push_back({file_, line_of(key), std::move(place), std::move(what),
                         std::move(expected), std::move(suggestion)});
}

std::string Reader::suggestion(std::string_view written, std::span<const std::string> known) const {
    return problems_.size() < suggestions_max ? nearest(written, known) : "";
}

bool Reader::has(std::string_view key) {
    asked_.emplace(key);
    return table_.contains(key);
}

const toml::node* Reader::raw(std::string_view key) {
    asked_.emplace(key);
    return table_.get(key);
}

const toml::node* Reader::node(std::string_view key, Need need, std::string_view expected) {
    asked_.emplace(key);
    const auto* found = table_.get(key);
    if (!found && need == Need::required) problem(key, "is missing", std::string(expected));
    return found;
}

std::optional<double> Reader::number_in(const toml::node& value, std::string_view key,
                                        Range range) {
    std::optional<double> number;
    if (const auto* whole = value.as_integer())
        number = static_cast<double>(whole->get());  // value<double>() gives none for large ones
    else if (const auto* real = value.as_floating_point())
        number = real->get();
    if (!number) {
        problem(key, "is " + kind_of(value), range_text(range));
        return std::nullopt;
    }
    if (!(*number >= range.low && *number <= range.high)) {  // refuses a NaN too
        problem(key, fmt::format("{:g} is out of range", *number), range_text(range));
        return std::nullopt;
    }
    return number;
}

std::optional<double> Reader::number(std::string_view key, Range range, Need need) {
    const auto* found = node(key, need, range_text(range));
    if (!found) return std::nullopt;
    return number_in(*found, key, range);
}

std::optional<bool> Reader::boolean(std::string_view key, Need need) {
    const auto* found = node(key, need, "true or false");
    if (!found) return std::nullopt;
    if (!found->is_boolean()) problem(key, "is " + kind_of(*found), "true or false");
    return found->value<bool>();
}

std::optional<std::string> Reader::text(std::string_view key, Need need) {
    const auto* found = node(key, need, "a text in quotes");
    if (!found) return std::nullopt;
    if (!found->is_string()) problem(key, "is " + kind_of(*found), "a text in quotes");
    auto value = found->value<std::string>();
    if (!value || is_visible(*value)) return value;
    problem(key, fmt::format("'{}' has a control or invisible character", printable(*value)),
            "a text that can be printed");
    return std::nullopt;
}

std::optional<std::string> Reader::name(std::string_view key, Need need) {
    const auto written = text(key, need);
    if (!written) return std::nullopt;
    std::string why;
    auto name = proper_name(*written, why);
    if (!name)
        problem(key, fmt::format("'{}' {}", printable(*written), why),
                fmt::format("1 to {} visible characters", name_length_max));
    return name;
}

std::optional<std::string> Reader::date(std::string_view key, Need need) {
    constexpr std::string_view expected = "a date without quotes, as 2026-09-19";
    const auto* found = node(key, need, expected);
    if (!found) return std::nullopt;
    const auto value = found->value<toml::date>();
    if (!found->is_date() || !value) {
        problem(key, "is " + kind_of(*found), std::string(expected));
        return std::nullopt;
    }
    std::ostringstream text;
    text << *value;
    return text.str();
}

std::optional<std::string> Reader::word(std::string_view key, const std::vector<std::string>& words,
                                        Need need) {
    auto written = text(key, need);
    if (!written || std::ranges::find(words, *written) != words.end()) return written;
    problem(key, fmt::format("'{}' is unknown", printable(*written)),
            fmt::format("one of {}", fmt::join(words, ", ")), suggestion(*written, words));
    return std::nullopt;
}

const toml::array* Reader::array(std::string_view key, std::size_t most, std::string_view expected,
                                 Need need) {
    const auto* found = node(key, need, expected);
    if (!found) return nullptr;
    if (!found->is_array()) {
        problem(key, "is " + kind_of(*found), std::string(expected));
        return nullptr;
    }
    const auto* values = found->as_array();
    if (values->size() > most) {
        problem(key, fmt::format("has {} entries", values->size()),
                fmt::format("at most {}", most));
        return nullptr;
    }
    return values;
}

std::optional<std::vector<double>> Reader::numbers(std::string_view key, std::size_t count,
                                                   Range range, Need need) {
    const auto expected = fmt::format("an array of {} numbers", count);
    const auto* values = array(key, SIZE_MAX, expected, need);
    if (!values) return std::nullopt;
    if (values->size() != count) {
        problem(key, fmt::format("has {} entries", values->size()), expected);
        return std::nullopt;
    }
    std::vector<double> numbers;
    for (const auto& value : *values) {
        const auto number = number_in(value, key, range);
        if (!number) return std::nullopt;
        numbers.push_back(*number);
    }
    return numbers;
}

std::vector<double> Reader::one_or_more(std::string_view key, Range range, std::size_t most) {
    std::vector<double> numbers;
    const auto* found = node(key, Need::optional, "");
    if (!found) return numbers;
    const auto add = [&](const toml::node& value) {
        if (const auto number = number_in(value, key, range)) numbers.push_back(*number);
    };
    if (!found->is_array()) {
        add(*found);
    } else if (const auto* values = array(key, most, "an array of numbers", Need::optional)) {
        if (values->empty()) problem(key, "is empty", "at least one number");
        for (const auto& value : *values) add(value);
    }
    return numbers;
}

std::vector<std::pair<double, double>> Reader::pairs(std::string_view key, Range first,
                                                     Range second, std::size_t most, Need need) {
    constexpr std::string_view expected = "an array of pairs of numbers, as [[0, 0], [5, 20]]";
    std::vector<std::pair<double, double>> pairs;
    const auto* values = array(key, most, expected, need);
    if (!values) return pairs;
    if (values->empty()) problem(key, "is empty", std::string(expected));
    for (const auto& value : *values) {
        const auto* pair = value.as_array();
        if (!pair || pair->size() != 2) {
            problem(key, fmt::format("entry {} is not a pair", pairs.size() + 1),
                    std::string(expected));
            return {};
        }
        const auto a = number_in(*pair->get(0), key, first);
        const auto b = number_in(*pair->get(1), key, second);
        if (!a || !b) return {};
        pairs.emplace_back(*a, *b);
    }
    return pairs;
}

std::vector<std::string> Reader::texts(std::string_view key, std::size_t most) {
    std::vector<std::string> texts;
    const auto* values = array(key, most, "an array, as [\"R1-R8\", 5790]", Need::optional);
    if (!values) return texts;
    for (const auto& value : *values) {
        if (const auto text = value.value<std::string>(); value.is_string() && text)
            texts.push_back(*text);
        else if (const auto number = value.value<double>(); value.is_number() && number)
            texts.push_back(fmt::format("{}", *number));
        else
            problem(key, fmt::format("entry {} is {}", texts.size() + 1, kind_of(value)),
                    "texts or numbers");
    }
    return texts;
}

bool Reader::table(std::string_view key, std::string_view label,
                   const std::function<void(Reader&)>& read, Need need) {
    const auto* found = node(key, need, "a table");
    if (!found) return false;
    if (!found->is_table()) {
        problem(key, "is " + kind_of(*found), "a table");
        return false;
    }
    const std::string place =
        where_ + (where_.empty() || label.empty() ? "" : ", ") + std::string(label);
    Reader inner(*found->as_table(), file_, place, problems_);
    read(inner);
    inner.finish();
    return true;
}

void Reader::tables(std::string_view key, std::size_t most,
                    const std::function<void(Reader&, std::size_t)>& read, Need need) {
    const auto expected = fmt::format("[[{}]] tables", key);
    const auto* values = array(key, most, expected, need);
    if (!values) return;
    std::size_t index = 0;
    for (const auto& value : *values) {
        ++index;
        const std::string place =
            fmt::format("{}{}{} {}", where_, where_.empty() ? "" : ", ", std::string(key), index);
        if (!value.is_table()) {
            problem(key, fmt::format("entry {} is {}", index, kind_of(value)), expected);
            continue;
        }
        Reader inner(*value.as_table(), file_, place, problems_);
        read(inner, index);
        inner.finish();
    }
}

void Reader::named_tables(std::string_view key, std::size_t most,
                          const std::function<void(Reader&, const std::string&)>& read) {
    const auto* found = node(key, Need::optional, "");
    if (!found) return;
    if (!found->is_table()) {
        problem(key, "is " + kind_of(*found), fmt::format("tables [{}.NAME]", key));
        return;
    }
    const auto& all = *found->as_table();
    if (all.size() > most) {
        problem(key, fmt::format("has {} entries", all.size()), fmt::format("at most {}", most));
        return;
    }
    for (const auto& [name, value] : all) {
        const std::string written(name.str());
        const auto place = fmt::format("{} '{}'", key, printable(written));
        if (!value.is_table()) {
            problem(key, fmt::format("'{}' is {}", printable(written), kind_of(value)),
                    fmt::format("a table [{}.NAME]", key));
            continue;
        }
        Reader inner(*value.as_table(), file_, place, problems_);
        read(inner, written);
        inner.finish();
    }
}

void Reader::finish() {
    const std::vector<std::string> known(asked_.begin(), asked_.end());
    for (const auto& [key, value] : table_) {
        if (asked_.contains(key.str())) continue;
        problems_.push_back({file_, static_cast<unsigned>(key.source().begin.line),
                             where_ + (where_.empty() ? "" : ", ") + printable(key.str()),
                             "is an unknown key", "", suggestion(key.str(), known)});
    }
}

std::optional<toml::table> parse_toml(std::string_view text, const std::string& file,
                                      Problems& problems) {
    if (text.size() > toml_bytes_max) {
        problems.push_back({file, 0, "", fmt::format("is {} bytes long", text.size()),
                            fmt::format("at most {}", toml_bytes_max), ""});
        return std::nullopt;
    }
    if (const auto deep = too_deep(text)) {
        problems.push_back({file, deep->line, "", deep->what, deep->expected, ""});
        return std::nullopt;
    }
    try {
        return toml::parse(text, std::string_view(file));
    } catch (const toml::parse_error& error) {
        problems.push_back({file, static_cast<unsigned>(error.source().begin.line), "",
                            fmt::format("is not TOML: {}", printable(error.description(), 300)), "",
                            ""});
        return std::nullopt;
    }
}

}  // namespace fieldpeg::book
