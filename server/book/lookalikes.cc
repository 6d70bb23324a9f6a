#include "server/book/lookalikes.h"

#include "server/book/names.h"

#include <unicode/normalizer2.h>
#include <unicode/uchar.h>
#include <unicode/unistr.h>
#include <unicode/uspoof.h>

#include <algorithm>
#include <array>
#include <memory>
#include <stdexcept>
#include <utility>

namespace fieldpeg::book {
namespace {

/// ICU with its tables. They come with the library: without them nothing can be told apart.
class Tables {
public:
    Tables()
        : compatible_(icu::Normalizer2::getNFKCInstance(error_)),
          small_(icu::Normalizer2::getNFKCCasefoldInstance(error_)),
          checker_(uspoof_open(&error_), uspoof_close) {
        if (U_FAILURE(error_) != 0) throw std::runtime_error(u_errorName(error_));
    }

    icu::UnicodeString compatible(const icu::UnicodeString& text) const {
        return normalised(*compatible_, text);
    }
    icu::UnicodeString in_small_letters(const icu::UnicodeString& text) const {
        return normalised(*small_, text);
    }
    /// UTS #39, section 4: what looks the same has the same.
    icu::UnicodeString skeleton(const icu::UnicodeString& text) const {
        auto error = U_ZERO_ERROR;
        icu::UnicodeString skeleton;
        uspoof_getSkeletonUnicodeString(checker_.get(), 0, text, skeleton, &error);
        return U_FAILURE(error) != 0 ? text : skeleton;
    }

private:
    static icu::UnicodeString normalised(const icu::Normalizer2& by,
                                         const icu::UnicodeString& text) {
        auto error = U_ZERO_ERROR;
        auto result = by.normalize(text, error);
        return U_FAILURE(error) != 0 ? text : result;
    }

    UErrorCode error_ = U_ZERO_ERROR;
    const icu::Normalizer2* compatible_;
    const icu::Normalizer2* small_;
    std::unique_ptr<USpoofChecker, decltype(&uspoof_close)> checker_;
};

const Tables& tables() {
    static const Tables all;
    return all;
}

/// What can be seen of a text, with one space where there are several.
icu::UnicodeString seen_of(std::string_view text) {
    const auto whole = tables().compatible(icu::UnicodeString::fromUTF8(
        icu::StringPiece(text.data(), static_cast<std::int32_t>(text.size()))));
    icu::UnicodeString seen;
    for (std::int32_t at = 0; at < whole.length(); at = whole.moveIndex32(at, 1)) {
        const auto c = whole.char32At(at);
        if (u_hasBinaryProperty(c, UCHAR_DEFAULT_IGNORABLE_CODE_POINT) != 0) continue;
        const bool is_space = u_isUWhiteSpace(c) != 0;
        if (is_space && seen.endsWith(u' ')) continue;
        seen.append(is_space ? UChar32{u' '} : c);
    }
    return seen.trim();
}

std::string utf8(const icu::UnicodeString& text) {
    std::string bytes;
    return text.toUTF8String(bytes);
}

/// What is said of somebody or something instead of a name: in the log, replies and on the page.
constexpr std::array<std::string_view, 12> words = {
    "the server", "server",   "somebody", "someone", "something", "nobody",
    "everybody",  "fieldpeg", "jemand",   "niemand", "alle",      "all"};
constexpr std::array<std::string_view, 5> marshals_words = {"marshal", "the marshal", "marshall",
                                                            "flugleitung", "die flugleitung"};
/// Followed by a number: sightings, people whose name was removed, what has none.
constexpr std::array<std::string_view, 3> counted = {"person", "sighting", "number"};
/// What belongs to a pilot, after the pilot's name.
constexpr std::array<std::string_view, 2> parts = {"'s handset", "'s ground side"};

template <class Words>
bool has_word(const Words& words_known, const Skeleton& written) {
    return std::ranges::any_of(words_known,
                               [&](std::string_view word) { return Skeleton(word) == written; });
}

/// Digits of any script, and the letters that look like ours.
bool looks_like_a_number(const icu::UnicodeString& text) {
    static const auto digits = tables().skeleton(icu::UnicodeString(u"0123456789"));
    const auto skeleton = tables().skeleton(text);
    bool all = !text.isEmpty();
    for (std::int32_t at = 0; at < text.length(); at = text.moveIndex32(at, 1))
        all = all && u_isdigit(text.char32At(at)) != 0;
    if (all) return true;
    all = !skeleton.isEmpty();
    for (std::int32_t at = 0; at < skeleton.length(); at = skeleton.moveIndex32(at, 1))
        all = all && digits.indexOf(skeleton.char32At(at)) >= 0;
    return all;
}

bool is_counted(std::string_view name) {
    auto seen = seen_of(name);
    if (seen.startsWith(u"#") != 0) return looks_like_a_number(seen.tempSubString(1));
    const auto space = seen.lastIndexOf(u' ');
    return space > 0 && looks_like_a_number(seen.tempSubString(space + 1)) &&
           has_word(counted, Skeleton(utf8(seen.tempSubString(0, space))));
}

/// Whether it ends as what belongs to a pilot does.
bool is_part(std::string_view name) {
    const auto skeleton = tables().skeleton(tables().in_small_letters(seen_of(name)));
    return std::ranges::any_of(parts, [&](std::string_view part) {
        const auto end = tables().skeleton(tables().in_small_letters(seen_of(part)));
        return skeleton.endsWith(end) != 0;
    });
}

}  // namespace

Skeleton::Skeleton(std::string_view name) {
    const auto seen = seen_of(name);
    const auto& of = tables();
    as_written_ = utf8(of.skeleton(seen));
    // A capital I looks like an l, and an i does not: both are looked at.
    in_small_letters_ = utf8(of.in_small_letters(of.skeleton(of.in_small_letters(seen))));
}

bool Skeleton::operator==(const Skeleton& other) const {
    return as_written_ == other.as_written_ || in_small_letters_ == other.in_small_letters_;
}

std::vector<std::string> resembled(std::string_view name, std::span<const std::string> known) {
    const Skeleton own(name);
    const auto key = name_key(name);
    std::vector<std::string> all;
    for (const auto& one : known)
        if (name_key(one) != key && Skeleton(one) == own) all.push_back(one);
    return all;
}

bool is_reserved(std::string_view name, Bearer bearer) {
    const Skeleton written(name);
    return has_word(words, written) || is_counted(name) || is_part(name) ||
           (bearer != Bearer::marshal && has_word(marshals_words, written));
}

}  // namespace fieldpeg::book
