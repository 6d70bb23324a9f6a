#pragma once

#include "server/day/words.h"

#include "fieldpeg/v1/assessment.pb.h"

#include <cstddef>
#include <string>
#include <string_view>

namespace fieldpeg::show {

/// How text is to be laid out.
struct Look {
    std::size_t width = 0;  ///< columns; 0: as wide as it gets
    bool colour = false;    ///< beside the words, never instead of them
};

/// Of a terminal on standard output: its width, colour unless NO_COLOR is set. Elsewhere plain.
Look look_of_stdout();
/// The same of one on standard error.
Look look_of_stderr();

/// "+2.2"; two decimals where the sign would be lost.
std::string db_text(double value);
/// How many columns a text takes on a terminal.
std::size_t columns(std::string_view text);

std::string verdict_text(v1::Verdict::Word verdict, const Look& look);
std::string picture_text(v1::Picture::Grade grade);
/// "about 88 % (alone nearly all)": how much of the flight has a picture, and what it would be
/// without the others if they take some of it.
template <class Result>
std::string flight_text(const Result& result) {
    constexpr double felt = 0.01;
    if (!result.has_share()) return "-";
    auto text = day::share_text(result.share());
    if (result.share_alone() - result.share() >= felt)
        text += fmt::format(" (alone {})", day::share_text(result.share_alone()));
    return text;
}
std::string basis_text(v1::Basis::Kind basis);
std::string kind_text(v1::Contribution::Kind kind);
using day::makers_text;
/// In which way somebody was on a frequency, by the log's kind: "on the air", "holds it", ...
std::string_view way_text(std::string_view kind);
/// "-89.7 dBm adjacent channel: Finn", with the frequency of a product.
std::string contribution_text(const v1::Contribution& contribution);
std::string heading(std::string_view text, const Look& look);

/// Said at the foot of everything that shows margins.
extern const std::string_view estimates_text;

}  // namespace fieldpeg::show
