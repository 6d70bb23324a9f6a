#include "client/verbs/manual.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <sstream>

namespace fieldpeg::verbs {
namespace {

/// As roff takes it: nothing in it is a command, and a hyphen is one that can be copied.
std::string escaped(const std::string& text) {
    std::string out;
    for (const char c : text) {
        const bool begins = out.empty() || out.back() == '\n';
        if (begins && (c == '.' || c == '\'')) out += "\\&";
        if (c == '\\')
            out += "\\e";
        else if (c == '-')
            out += "\\-";
        else
            out += c;
    }
    return out;
}

/// Paragraphs; lines that begin with two spaces stay as they are.
std::string paragraphs(const std::string& text) {
    std::string out;
    bool is_as_written = false;
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        if (line.starts_with("  ") != is_as_written) {
            is_as_written = !is_as_written;
            out += is_as_written ? ".PP\n.nf\n" : ".fi\n.PP\n";
        }
        out += line.empty() ? ".PP\n" : escaped(line) + "\n";
    }
    return out + (is_as_written ? ".fi\n" : "");
}

std::string heads(const Flag& flag) {
    if (flag.by_place) return fmt::format("\\fI{}\\fR", escaped(flag.names.front()));
    std::string text;
    for (const auto& name : flag.names)
        text += fmt::format("{}\\fB{}\\fR", text.empty() ? "" : ", ", escaped(name));
    return flag.value.empty() ? text : fmt::format("{} \\fI{}\\fR", text, escaped(flag.value));
}

/// That each verb has --help is said once.
std::string flags_of(const Program& program, bool with_help) {
    std::string out;
    for (const auto& flag : program.flags) {
        if (!with_help && flag.names.back() == "--help") continue;
        auto what = flag.what;
        if (!flag.choices.empty()) what += fmt::format(" ({})", fmt::join(flag.choices, ", "));
        out += fmt::format(".TP\n{}\n{}\n", heads(flag), escaped(what));
    }
    return out;
}

std::string usage(const Program& program, const std::string& before) {
    std::string text = fmt::format("\\fB{}\\fR", escaped(before + program.name));
    const bool has_flags =
        std::ranges::any_of(program.flags, [](const Flag& f) { return !f.by_place; });
    if (has_flags) text += " [\\fIoption\\fR ...]";
    for (const auto& flag : program.flags)
        if (flag.by_place)
            text += fmt::format(" {}\\fI{}\\fR{}{}", flag.is_required ? "" : "[",
                                escaped(flag.names.front()), flag.is_many ? " ..." : "",
                                flag.is_required ? "" : "]");
    if (!program.verbs.empty()) text += " \\fIverb\\fR ...";
    return text;
}

// NOLINTNEXTLINE(misc-no-recursion): as deep as verbs nest
std::string verb_text(const Program& verb, const std::string& program, const std::string& before) {
    std::string out = fmt::format(".SS {}\n{}.\n.PP\n{}\n", escaped(before + verb.name),
                                  escaped(verb.what), usage(verb, program + " " + before));
    out += flags_of(verb, false);
    if (!verb.footer.empty()) out += ".PP\n" + paragraphs(verb.footer);
    for (const auto& each : verb.verbs) out += verb_text(each, program, before + verb.name + " ");
    return out;
}

std::string list(const char* heading, const std::string& text) {
    if (text.empty()) return "";
    std::string out = fmt::format(".SH {}\n", heading);
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const auto colon = line.find(": ");
        out += fmt::format(".TP\n\\fI{}\\fR\n{}\n", escaped(line.substr(0, colon)),
                           escaped(line.substr(colon + 2)));
    }
    return out;
}

std::string quoted(std::string text, char quote) {
    std::string out;
    for (const char c : text) {
        if (c == quote || c == '\\') out += '\\';
        out += c;
    }
    return out;
}

}  // namespace

std::string manual_page(const Program& program, const ManualRest& rest) {
    std::string upper = program.name;
    std::ranges::transform(upper, upper.begin(), [](unsigned char c) { return std::toupper(c); });
    auto out = fmt::format(
        ".TH {} {} {} \"{}\" \"Fieldpeg\"\n.SH NAME\n{} \\- {}\n", upper, rest.section, rest.date,
        rest.version, program.name,
        escaped(program.what.substr(
            program.what.find(": ") == std::string::npos ? 0 : program.what.find(": ") + 2)));
    out += fmt::format(".SH SYNOPSIS\n{}\n.SH DESCRIPTION\n{}", usage(program, ""),
                       paragraphs(rest.about));
    out += ".SH OPTIONS\n" + flags_of(program, true);
    if (!program.verbs.empty()) out += ".SH VERBS\n";
    for (const auto& verb : program.verbs) out += verb_text(verb, program.name, "");
    if (!program.footer.empty()) out += ".SH NOTES\n" + paragraphs(program.footer);
    out += list("FILES", rest.files) + list("ENVIRONMENT", rest.environment);
    return out + fmt::format(".SH SEE ALSO\n{}\n", escaped(rest.see_also));
}

std::string fish_flags(const Program& program) {
    std::string out;
    for (const auto& flag : program.flags) {
        out += fmt::format("complete -c {}", program.name);
        for (const auto& name : flag.names)
            out += name.starts_with("--") ? fmt::format(" -l {}", name.substr(2))
                                          : fmt::format(" -s {}", name.substr(1));
        if (flag.value == "FILE")
            out += " -r";
        else if (!flag.value.empty())
            out += " -x";
        out += fmt::format(" -d '{}'\n", quoted(flag.what, '\''));
    }
    return out;
}

std::string zsh_flags(const Program& program) {
    auto out = fmt::format("#compdef {}\n_arguments", program.name);
    for (const auto& flag : program.flags)
        for (const auto& name : flag.names) {
            std::string what;
            for (const char c : flag.what) {
                if (c == '[' || c == ']' || c == ':') what += '\\';
                if (c == '\'') what += "'\\'";
                what += c;
            }
            const std::string value = flag.value.empty()     ? ""
                                      : flag.value == "FILE" ? ":file:_files"
                                                             : ":value:";
            out += fmt::format(" \\\n  '{}[{}]{}'", name, what, value);
        }
    return out + "\n";
}

std::string bash_flags(const Program& program) {
    std::string all, files;
    for (const auto& flag : program.flags)
        for (const auto& name : flag.names) {
            all += (all.empty() ? "" : " ") + name;
            if (flag.value == "FILE") files += (files.empty() ? "" : "|") + name;
        }
    return fmt::format(
        "_{0}() {{\n"
        "    case ${{COMP_WORDS[COMP_CWORD-1]}} in\n"
        "        {1}) mapfile -t COMPREPLY < <(compgen -f -- \"${{COMP_WORDS[COMP_CWORD]}}\") ;;\n"
        "        *) mapfile -t COMPREPLY < <(compgen -W '{2}' -- \"${{COMP_WORDS[COMP_CWORD]}}\") "
        ";;\n"
        "    esac\n"
        "}}\n"
        "complete -F _{0} {0}\n",
        program.name, files, all);
}

}  // namespace fieldpeg::verbs
