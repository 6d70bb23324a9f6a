#pragma once

#include <boost/assert/source_location.hpp>
#include <boost/system/result.hpp>

#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>

namespace fieldpeg {

/// Why an input was refused: the kind is for programs, the rest is for people.
struct Refusal {
    enum class Kind {
        malformed,     ///< wrong by itself, whatever the day is like
        out_of_range,  ///< outside the limits of the model or of the rule set
        conflict,      ///< contradicts what is already so
        not_found,
        not_permitted,  ///< this person may not
        unavailable,    ///< nothing is wrong with the question; the world does not let it be done
        no_answer,      ///< nobody answered
    };

    Kind kind;
    std::string where;      ///< the part that is wrong, outermost first
    std::string why;        ///< what is wrong with it
    std::string next = {};  ///< what to do about it, where that is not plain
};

/// The same refusal seen from one floor up: in("receiver 2", "knot 3" ...) is wrong at
/// "receiver 2, knot 3".
inline Refusal in(std::string_view place, Refusal refusal) {
    refusal.where = std::string(place) + (refusal.where.empty() ? "" : ", ") + refusal.where;
    return refusal;
}

/// What Result::value() does when there is none: not having looked first is our own mistake.
[[noreturn]] inline void throw_exception_from_error(const Refusal& refusal,
                                                    const boost::source_location&) {
    throw std::logic_error("unchecked refusal at " + refusal.where + ": " + refusal.why);
}

template <class T>
using Result = boost::system::result<T, Refusal>;

/// Why a number is refused that must lie from `low` to `high`; none if it does. A NaN never does.
std::optional<Refusal> outside(const char* what, double value, double low, double high);

}  // namespace fieldpeg
