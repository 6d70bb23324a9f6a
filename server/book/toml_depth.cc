#include "server/book/toml_depth.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::book {
namespace {

/// Walks over a text as the parser does, and no deeper than the bounds: texts and comments are
/// passed over, parts of keys and brackets counted. Dots count wherever they are, since a number
/// has one at most.
class Walk {
public:
    explicit Walk(std::string_view text) : text_(text) {}

    std::optional<TooDeep> to_the_end() {
        while (at_ < text_.size()) {
            step();
            if (parts_ > key_parts_max)
                return too("has a key of more than {} parts", key_parts_max);
            if (depth_ > brackets_max)
                return too("has values nested more than {} deep", brackets_max);
        }
        return std::nullopt;
    }

private:
    void step() {
        const char c = text_[at_];
        if (c == '"' || c == '\'') return quoted(c);
        ++at_;
        switch (c) {
            case '#':
                at_ = std::min(text_.find('\n', at_), text_.size());
                return;
            case '.':
                ++parts_;
                return;
            case '[':
            case '{':
                ++depth_;
                break;
            case ']':
            case '}':
                if (depth_ > 0) --depth_;
                break;
            case '\n':
                ++line_;
                break;
            case '=':
            case ',':
                break;
            default:
                return;
        }
        parts_ = 1;
    }

    void quoted(char quote) {
        const std::string three(3, quote);
        if (text_.substr(at_).starts_with(three)) {
            at_ += three.size();
            return over_lines(quote, three);
        }
        ++at_;
        while (at_ < text_.size() && text_[at_] != '\n') {
            const char c = text_[at_++];
            if (c == quote) return;
            if (c == '\\' && quote == '"' && at_ < text_.size() && text_[at_] != '\n') ++at_;
        }
    }

    /// To behind the quotes that end it: three, and up to two of the text's own before them.
    void over_lines(char quote, std::string_view three) {
        while (at_ < text_.size()) {
            if (text_.substr(at_).starts_with(three)) {
                at_ += three.size();
                for (int own = 0; own < 2 && at_ < text_.size() && text_[at_] == quote; ++own)
                    ++at_;
                return;
            }
            if (text_[at_] == '\\' && quote == '"') count_line();
            count_line();
        }
    }

    void count_line() {
        if (at_ < text_.size() && text_[at_++] == '\n') ++line_;
    }

    TooDeep too(std::string_view what, std::size_t most) const {
        return {line_, fmt::format(fmt::runtime(what), most), fmt::format("at most {}", most)};
    }

    std::string_view text_;
    std::size_t at_ = 0;
    unsigned line_ = 1;
    std::size_t parts_ = 1;  ///< of the key that is being read
    std::size_t depth_ = 0;
};

}  // namespace

std::optional<TooDeep> too_deep(std::string_view text) {
    return Walk(text).to_the_end();
}

}  // namespace fieldpeg::book
