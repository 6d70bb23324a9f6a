#pragma once

#include "client/verbs/described.h"

#include <string>

namespace fieldpeg::verbs {

/// What a manual page says beside the command line. Texts are plain; a line that begins with two
/// spaces stays as it is.
struct ManualRest {
    std::string section;      ///< "1", "8"
    std::string version;      ///< "fieldpeg 0.4.0"
    std::string date;         ///< of the change: "2026-11-29"
    std::string about;        ///< what it is, in a few sentences
    std::string files;        ///< "NAME: what it is", a line each
    std::string environment;  ///< the same
    std::string see_also;     ///< "fieldpegd(8)"
};

/// A manual page (man(7)) of a program: each verb and each flag of it.
std::string manual_page(const Program& program, const ManualRest& rest);

/// For fish, zsh and bash, of a program without verbs, whose flags are all there is.
std::string fish_flags(const Program& program);
std::string zsh_flags(const Program& program);
std::string bash_flags(const Program& program);

}  // namespace fieldpeg::verbs
