#pragma once

#include <sys/wait.h>
#include <unistd.h>

#include <functional>
#include <string>

namespace fieldpeg::testing {

/// What `said` says in a process of its own.
inline std::string in_another_process(const std::function<std::string()>& said) {
    int ends[2];
    if (::pipe(ends) != 0) return "no pipe";
    const auto child = ::fork();
    if (child == 0) {
        const auto text = said();
        ::_exit(::write(ends[1], text.data(), text.size()) >= 0 ? 0 : 1);
    }
    ::close(ends[1]);
    std::string text;
    char part[512];
    for (ssize_t size = 0; (size = ::read(ends[0], part, sizeof part)) > 0;)
        text.append(part, static_cast<std::size_t>(size));
    ::close(ends[0]);
    int status = 0;
    ::waitpid(child, &status, 0);
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? text : text + " [it did not end well]";
}

/// The same as a user who owns nothing: whoever is root may write everywhere.
inline std::string as_another_user(const std::function<std::string()>& said) {
    return in_another_process([&]() -> std::string {
        if (::geteuid() == 0 && ::setresuid(65534, 65534, 65534) != 0)
            return "could not become another user";
        return said();
    });
}

}  // namespace fieldpeg::testing
