#pragma once

#include "fieldpeg/v1/day.pb.h"

#include <string>

/// The evening before: who has which channel, to be cut out, put on the wall and sent round.
namespace fieldpeg::show {

/// One HTML file: the roster by flight group on one sheet of A4, a peg for everybody who holds a
/// channel, and the lines of pegs_text().
std::string pegs_html(const v1::DaySheet& sheet);
/// Comma-separated values [RFC4180], a line for everybody and every relay.
std::string pegs_csv(const v1::DaySheet& sheet);
/// A line each, as one sends it: "Ann: group 1, R5 = 5806 MHz, 25 mW".
std::string pegs_text(const v1::DaySheet& sheet);

}  // namespace fieldpeg::show
