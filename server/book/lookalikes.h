#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

/// Names that deceive: what somebody on the field would take for another name, or for a word of
/// this program. Skeletons are those of Unicode Technical Standard #39, by ICU.
namespace fieldpeg::book {

/// What a name looks like. Invisible characters, widths, runs of spaces and case make no
/// difference, nor does the script that a letter is of, where letters look the same.
class Skeleton {
public:
    explicit Skeleton(std::string_view name);
    bool operator==(const Skeleton& other) const;

private:
    std::string as_written_, in_small_letters_;
};

/// Those of the known names that one looks like and is not (name_key).
std::vector<std::string> resembled(std::string_view name, std::span<const std::string> known);

/// What the program calls somebody or something itself, as "the server" or "sighting 3", or looks
/// as if: nobody may be called so. A marshal may be called one.
enum class Bearer { anybody, marshal };
bool is_reserved(std::string_view name, Bearer bearer = Bearer::anybody);

}  // namespace fieldpeg::book
