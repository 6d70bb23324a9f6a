#pragma once

#include "tests/support/browser.h"
#include "tests/support/days.h"
#include "tests/support/pegs.h"

#include <fmt/format.h>

#include <sys/wait.h>
#include <unistd.h>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <sstream>
#include <string>
#include <thread>

/// The real server beside a benchmark.
namespace fieldpeg::testing {

/// The server as a process of its own, so that its time and memory are its own.
class Process {
public:
    Process(const std::string& program, const std::string& day, const std::string& said) {
        id_ = ::fork();
        if (id_ != 0) return;
        if (!std::freopen(said.c_str(), "w", stderr)) std::_Exit(1);
        ::execl(program.c_str(), program.c_str(), "--day", day.c_str(), "--listen", "127.0.0.1:0",
                "--board", "127.0.0.1:0", "--no-discovery", nullptr);
        std::_Exit(1);
    }
    ~Process() {
        ::kill(id_, SIGTERM);
        ::waitpid(id_, nullptr, 0);
    }
    Process(const Process&) = delete;
    Process& operator=(const Process&) = delete;

    double cpu_s() const {
        std::ifstream in(fmt::format("/proc/{}/stat", id_));
        std::string field;
        double ticks = 0;
        for (int i = 1; i <= 15 && in >> field; ++i)
            if (i >= 14) ticks += std::stod(field);
        return ticks / static_cast<double>(::sysconf(_SC_CLK_TCK));
    }
    long memory_kb() const {
        std::ifstream in(fmt::format("/proc/{}/status", id_));
        for (std::string line; std::getline(in, line);)
            if (line.starts_with("VmRSS:")) return std::stol(line.substr(6));
        return 0;
    }

private:
    ::pid_t id_;
};

inline std::string text_of_file(const std::string& path) {
    std::ifstream in(path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

inline std::uint16_t port_said(const std::string& path) {
    for (int i = 0; i < 200; ++i) {
        const auto text = text_of_file(path);
        const auto at = text.find("http://127.0.0.1:");
        if (text.find("stop with Ctrl-C") != std::string::npos && at != std::string::npos)
            return static_cast<std::uint16_t>(std::stoi(text.substr(at + 17)));
        std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    std::cerr << text_of_file(path);
    std::exit(1);
}

inline std::string ticket_of(const std::string& path, const std::string& role) {
    const auto text = text_of_file(path);
    const auto line = text.find('\n', text.find("# " + role)) + 1;
    return text.substr(line, text.find('\n', line) - line);
}

inline std::string cookie_of(std::uint16_t port, const std::string& ticket,
                             const std::string& name) {
    Browser browser(port, Browser::Scheme::https);
    const auto secret = ticket.substr(ticket.rfind('/') + 1);
    const auto reply =
        browser.post("/enter", fmt::format(R"({{"secret": "{}", "name": "{}"}})", secret, name));
    if (!reply || reply->result_int() != 200) std::exit(1);
    const std::string set = (*reply)[http::field::set_cookie];
    return set.substr(0, set.find(';'));
}

inline std::string day_of(int pilots) {
    std::string text = field_text();
    for (int i = 0; i < pilots; ++i)
        text += text_of(PilotText{.name = fmt::format("Pilot {}", i),
                                  .place = fmt::format("line-{}", 1 + i % 4),
                                  .channel = fmt::format("{}", 5650 + i * 7),
                                  .stage = i % 4 == 0 ? "on_air = true" : ""});
    return text;
}

}  // namespace fieldpeg::testing
