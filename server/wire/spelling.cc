#include "server/wire/spelling.h"

#include "server/wire/ticket.h"

#include <fmt/format.h>

#include <array>

namespace fieldpeg::wire {
namespace {

constexpr std::array<std::string_view, 26> letters = {
    "alfa",    "bravo", "charlie", "delta",  "echo",     "foxtrot", "golf",   "hotel",  "india",
    "juliett", "kilo",  "lima",    "mike",   "november", "oscar",   "papa",   "quebec", "romeo",
    "sierra",  "tango", "uniform", "victor", "whiskey",  "x-ray",   "yankee", "zulu"};
/// Of 2 to 7: base 32 has no others.
constexpr std::array<std::string_view, 6> digits = {"two", "three", "four", "five", "six", "seven"};

}  // namespace

std::string spelled(std::string_view fingerprint) {
    std::string words;
    for (const char c : base32(fingerprint).substr(0, letters_spelled)) {
        const bool is_letter = c >= 'a';
        const auto word = is_letter ? letters.at(static_cast<std::size_t>(c - 'a'))
                                    : digits.at(static_cast<std::size_t>(c - '2'));
        words += (words.empty() ? "" : " ") + std::string(word);
    }
    return words;
}

std::string hex_pairs(std::string_view fingerprint) {
    std::string pairs;
    for (const char c : fingerprint)
        pairs += fmt::format("{}{:02X}", pairs.empty() ? "" : ":", static_cast<unsigned char>(c));
    return pairs;
}

}  // namespace fieldpeg::wire
