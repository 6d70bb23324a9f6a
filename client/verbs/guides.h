#pragma once

#include <span>
#include <string_view>

namespace fieldpeg::verbs {

/// A guide of docs/, built into the program.
struct GuideText {
    std::string_view topic, text;
};
std::span<const GuideText> guides();

}  // namespace fieldpeg::verbs
