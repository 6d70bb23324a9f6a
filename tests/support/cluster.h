#pragma once

#include <sys/types.h>

#include <string>
#include <string_view>

namespace fieldpeg::testing {

/// A PostgreSQL of the test's own, from Debian's package: a private folder under /tmp, a user of
/// its own, no port, only a socket in that folder; gone with all that is in it when this is. Throws
/// where the package is not there, so that tests fail instead of passing without it.
class Cluster {
public:
    /// `sync`: whether it is sure of its disk, as a day needs it; what judges no speed and no
    /// power cut may do without.
    enum class Sync { on, off };
    explicit Cluster(Sync sync = Sync::off);
    ~Cluster();
    Cluster(const Cluster&) = delete;
    Cluster& operator=(const Cluster&) = delete;

    /// One for a whole test program.
    static Cluster& shared();

    /// The address of a database of that name, as libpq takes it.
    std::string address(std::string_view database) const;
    /// Of a new, empty one.
    std::string new_database();
    /// Statements of a test's own, each by itself. Throws where one fails. What the first row has
    /// in its first column, if there is one.
    std::string run(const std::string& address, const std::string& sql) const;

    void start();
    void stop();  ///< in good order
    /// As a power cut would end it, all its processes at once.
    void kill();
    /// All its processes stand still, or go on.
    void freeze();
    void thaw();

    const std::string& folder() const { return folder_; }

private:
    void signal_all(int signal) const;
    pid_t postmaster() const;

    std::string folder_;
    Sync sync_;
    int databases_ = 0;
};

}  // namespace fieldpeg::testing
