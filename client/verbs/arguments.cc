#include "client/verbs/arguments.h"

#include <CLI/CLI.hpp>

#include <utility>

namespace fieldpeg::verbs {

Argument Argument::required() {
    option_->required();
    return *this;
}

Argument Argument::type_name(const std::string& name) {
    option_->type_name(name);
    return *this;
}

Argument Argument::may_be_empty() {
    option_->expected(0, 1);
    return *this;
}

Argument Argument::expected(int values) {
    option_->expected(values);
    return *this;
}

Argument Argument::shows_default() {
    option_->capture_default_str();
    return *this;
}

Argument Argument::within(double least, double most) {
    option_->check(CLI::Range(least, most));
    return *this;
}

Argument Argument::one_of(const std::vector<std::string>& words) {
    option_->check(CLI::IsMember(words));
    return *this;
}

Argument Argument::split_at(char delimiter) {
    option_->delimiter(delimiter);
    return *this;
}

Argument Argument::excludes(const Argument& other) {
    option_->excludes(other.option_);
    return *this;
}

Argument Argument::group(const std::string& heading) {
    option_->group(heading);
    return *this;
}

bool Argument::is_given() const {
    return option_->count() > 0;
}

Verb Verb::verb(const std::string& name, const std::string& what) {
    return Verb(app_->add_subcommand(name, what));
}

void Verb::hide() {
    app_->group("");
}

void Verb::needs_verb() {
    app_->require_subcommand(1);
}

Argument Verb::value(const std::string& name, std::string& into, const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::vector<std::string>& into,
                     const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, double& into, const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::optional<double>& into,
                     const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::vector<double>& into, const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, unsigned& into, const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::optional<unsigned>& into,
                     const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::uint64_t& into, const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::value(const std::string& name, std::vector<std::uint64_t>& into,
                     const std::string& what) {
    return Argument(app_->add_option(name, into, what));
}

Argument Verb::flag(const std::string& name, bool& into, const std::string& what) {
    return Argument(app_->add_flag(name, into, what));
}

void Verb::footer(const std::string& text) {
    app_->footer(text);
}

void Verb::callback(std::function<void()> act) {
    app_->callback(std::move(act));
}

}  // namespace fieldpeg::verbs
