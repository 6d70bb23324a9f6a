#pragma once

#include "server/book/problem.h"

#include <toml++/toml.h>

#include <cstdint>
#include <functional>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fieldpeg::book {

/// A range that a number must lie in, and the word for its unit.
struct Range {
    double low;
    double high;
    std::string_view unit = "";
};

enum class Need { optional, required };

/// Reads one table of a TOML file key by key and keeps a list of all that is wrong with it.
///
/// A getter gives nothing for a key that is absent or wrong; what is wrong is already on the list.
/// `finish()` names every key that nobody asked for.
class Reader {
public:
    /// `where` names the table to people: "pilot 'Ann', video"; empty for the file's top.
    Reader(const toml::table& table, std::string file, std::string where, Problems& problems);

    bool has(std::string_view key);
    /// The value itself, of whatever kind; none if absent.
    const toml::node* raw(std::string_view key);

    std::optional<double> number(std::string_view key, Range range, Need need = Need::optional);
    std::optional<bool> boolean(std::string_view key, Need need = Need::optional);
    std::optional<std::string> text(std::string_view key, Need need = Need::optional);
    /// A text that may be printed anywhere and told apart from others; see names.h.
    std::optional<std::string> name(std::string_view key, Need need = Need::optional);
    /// A TOML date, as ISO 8601.
    std::optional<std::string> date(std::string_view key, Need need = Need::optional);
    /// One of a list of words.
    std::optional<std::string> word(std::string_view key, const std::vector<std::string>& words,
                                    Need need = Need::optional);
    /// An array of exactly `count` numbers.
    std::optional<std::vector<double>> numbers(std::string_view key, std::size_t count, Range range,
                                               Need need = Need::optional);
    /// A number or an array of at least one.
    std::vector<double> one_or_more(std::string_view key, Range range, std::size_t most);
    /// An array of pairs of numbers: knots, bands.
    std::vector<std::pair<double, double>> pairs(std::string_view key, Range first, Range second,
                                                 std::size_t most, Need need = Need::optional);
    /// An array of texts or numbers, numbers as text.
    std::vector<std::string> texts(std::string_view key, std::size_t most);

    /// The table under `key`, to be read by `read`; none if absent or no table.
    bool table(std::string_view key, std::string_view label,
               const std::function<void(Reader&)>& read, Need need = Need::optional);
    /// Every table of an array of tables.
    void tables(std::string_view key, std::size_t most,
                const std::function<void(Reader&, std::size_t)>& read, Need need = Need::optional);
    /// Every table in a table of tables, with its name.
    void named_tables(std::string_view key, std::size_t most,
                      const std::function<void(Reader&, const std::string&)>& read);

    /// Puts a problem on the list, at the line of `key` if there is one.
    void problem(std::string_view key, std::string what, std::string expected = {},
                 std::string suggestion = {});
    /// The known name nearest to what is written, while there are few problems: in a file that is
    /// wrong throughout, looking for it every time would take minutes.
    std::string suggestion(std::string_view written, std::span<const std::string> known) const;
    /// Names the table to people from here on.
    void called(std::string where) { where_ = std::move(where); }
    const std::string& where() const { return where_; }
    const std::string& file() const { return file_; }
    Problems& problems() { return problems_; }

    void finish();

private:
    const toml::node* node(std::string_view key, Need need, std::string_view expected);
    unsigned line_of(std::string_view key) const;
    std::optional<double> number_in(const toml::node& value, std::string_view key, Range range);
    const toml::array* array(std::string_view key, std::size_t most, std::string_view expected,
                             Need need);

    const toml::table& table_;
    std::string file_;
    std::string where_;
    Problems& problems_;
    std::set<std::string, std::less<>> asked_;
};

/// A TOML text, or the problem with it. The text is at most `toml_bytes_max` long, and no deeper
/// than toml_depth.h allows; of more than that nothing is parsed.
std::optional<toml::table> parse_toml(std::string_view text, const std::string& file,
                                      Problems& problems);

inline constexpr std::size_t toml_bytes_max = 1 << 20;
/// More than this many problems in one file help nobody.
inline constexpr std::size_t problems_max = 50;
/// For so many a suggestion is looked for: more than are told, since they are told by their lines.
inline constexpr std::size_t suggestions_max = 4 * problems_max;

}  // namespace fieldpeg::book
