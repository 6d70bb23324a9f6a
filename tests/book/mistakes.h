#pragma once

#include "server/book/problem.h"

#include <initializer_list>
#include <string>
#include <string_view>

/// Day files with something wrong in them, and what is said of it.
namespace fieldpeg::testing {

/// All that is wrong with a day file; nothing if it makes a sheet.
book::Problems problems_of(std::string_view text);
std::string listed(const book::Problems& problems);

/// One thing that somebody may get wrong.
struct Mistake {
    std::string_view from, to;
    std::string_view says;     ///< a phrase of the problem
    std::string_view at = {};  ///< on whose line; empty: on that of `to`
};

/// Each mistake by itself is the only problem, said in those words and on that line.
void expect_each_said(std::string_view text, std::initializer_list<Mistake> mistakes);
/// The same of the whole day.
void expect_each_said(std::initializer_list<Mistake> mistakes);

}  // namespace fieldpeg::testing
