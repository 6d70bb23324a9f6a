#pragma once

#include <cstdint>
#include <functional>
#include <initializer_list>
#include <optional>
#include <string>
#include <vector>

/// The command line as verbs describe it. The library that reads it is known to arguments.cc and
/// program.cc alone: reading that library's headers takes longer than compiling a verb.
namespace CLI {  // NOLINT(readability-identifier-naming): that library's own
class App;
class Option;
}  // namespace CLI

namespace fieldpeg::verbs {

/// One argument or flag, and what is said of it.
class Argument {
public:
    explicit Argument(CLI::Option* option) : option_(option) {}

    Argument required();
    /// What stands for its value in the help.
    Argument type_name(const std::string& name);
    Argument expected(int values);
    /// It may stand there without a value.
    Argument may_be_empty();
    /// The help tells the value that it has without being given.
    Argument shows_default();
    Argument within(double least, double most);
    Argument one_of(const std::vector<std::string>& words);
    /// Several values in one word.
    Argument split_at(char delimiter);
    Argument excludes(const Argument& other);
    /// The heading in the help under which it stands.
    Argument group(const std::string& heading);
    bool is_given() const;

private:
    CLI::Option* option_;
};

/// One verb, or the program, whose subcommands are the verbs.
class Verb {
public:
    explicit Verb(CLI::App* app) : app_(app) {}

    /// A verb of this one.
    Verb verb(const std::string& name, const std::string& what);
    /// It is not in the help.
    void hide();
    /// One of its verbs has to be named.
    void needs_verb();

    /// A value; the variable must outlive the reading of the command line.
    Argument value(const std::string& name, std::string& into, const std::string& what);
    Argument value(const std::string& name, std::vector<std::string>& into,
                   const std::string& what);
    Argument value(const std::string& name, double& into, const std::string& what);
    Argument value(const std::string& name, std::optional<double>& into, const std::string& what);
    Argument value(const std::string& name, std::vector<double>& into, const std::string& what);
    Argument value(const std::string& name, unsigned& into, const std::string& what);
    Argument value(const std::string& name, std::optional<unsigned>& into, const std::string& what);
    Argument value(const std::string& name, std::uint64_t& into, const std::string& what);
    Argument value(const std::string& name, std::vector<std::uint64_t>& into,
                   const std::string& what);
    Argument flag(const std::string& name, bool& into, const std::string& what);

    /// What the help ends with: the meaning of exit statuses, examples.
    void footer(const std::string& text);
    /// Called when the verb was on the command line and all is read.
    void callback(std::function<void()> act);

private:
    CLI::App* app_;
};

}  // namespace fieldpeg::verbs
