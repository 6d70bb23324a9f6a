#include "server/book/problem.h"

#include "server/book/names.h"

#include <fmt/format.h>

namespace fieldpeg::book {

std::string to_string(const Problem& problem) {
    std::string text;
    if (!problem.file.empty()) {
        text = printable(problem.file, 200);
        if (problem.line > 0) text += fmt::format(":{}", problem.line);
        text += ": ";
    }
    if (!problem.key.empty()) text += problem.key + ": ";
    text += problem.what;
    if (!problem.expected.empty()) text += "; expected " + problem.expected;
    if (!problem.suggestion.empty())
        text += fmt::format("; did you mean '{}'?", problem.suggestion);
    return visible(text);  // keys and what a parser says have parts of the file in them
}

}  // namespace fieldpeg::book
