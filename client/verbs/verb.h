#pragma once

#include "client/link/link.h"
#include "client/show/look.h"

#include <CLI/CLI.hpp>

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

namespace fieldpeg::verbs {

/// Exit statuses, for scripts.
enum Exit : int {
    done = 0,      ///< steady, tight, too far, no picture
    failed = 1,
    bad_input = 2,
    refused = 3,   ///< refused, or shaky or clash found
    no_answer = 4,
};

/// What a verb that was asked for will do once all arguments are read; its exit status.
using Run = std::function<int()>;

/// Each adds one verb to the program. When the verb is on the command line it leaves in `run` what
/// is to be done.
void add_new(CLI::App& program, Run& run);
void add_check(CLI::App& program, Run& run);
void add_explain(CLI::App& program, Run& run);
void add_relay(CLI::App& program, Run& run);
void add_gear(CLI::App& program, Run& run);
void add_channels(CLI::App& program, Run& run);

/// What most verbs take: the day and the form of the answer.
struct Common {
    std::string day = "day.toml";
    bool json = false;
};
void add_day(CLI::App& verb, Common& common);
void add_json(CLI::App& verb, Common& common);
/// What is counted, and how many contributions are told of each receiver.
void add_on_air(CLI::App& verb, bool& on_air);
void add_terms(CLI::App& verb, unsigned& terms);

/// Opens the day; on failure says all that is wrong on stderr and gives null.
std::unique_ptr<link::Link> open(const Common& common);

/// Prints to standard output. False if it takes no more.
bool print(std::string_view text);

/// Says why on stderr: program, place, what is wrong; a second line if there is something to do.
int say_refusal(const v1::Refusal& refusal);
int say_bad_input(std::string_view where, std::string_view why);

/// A channel or power argument in the words of the command line; none with the reason said.
std::optional<v1::Channel> channel_argument(std::string_view flag, const std::string& written);
std::optional<double> power_argument(std::string_view flag, const std::string& written);

}  // namespace fieldpeg::verbs
