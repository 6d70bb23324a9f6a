#include "tests/support/cluster.h"

#include <libpq-fe.h>
#include <pwd.h>
#include <signal.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <thread>
#include <vector>

namespace fieldpeg::testing {
namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

constexpr const char* programs = "/usr/lib/postgresql/15/bin/";

/// The programs refuse to be run by root: then by the user whom the package made.
std::string as_its_user(const std::string& command) {
    return ::geteuid() == 0 ? "runuser -u postgres -- " + command : command;
}

void must(const std::string& command) {
    if (std::system((command + " >/dev/null 2>&1").c_str()) != 0)
        throw std::runtime_error("failed: " + command +
                                 " (is Debian's postgresql-15 installed? .ci/setup test)");
}

/// A process and all that it began.
std::vector<pid_t> family(pid_t parent) {
    std::vector<pid_t> all{parent};
    std::ifstream children("/proc/" + std::to_string(parent) + "/task/" + std::to_string(parent) +
                           "/children");
    for (pid_t child = 0; children >> child;) all.push_back(child);
    return all;
}

}  // namespace

Cluster::Cluster(Sync sync) : sync_(sync) {
    std::string pattern = "/tmp/fieldpeg-db-XXXXXX";
    if (!::mkdtemp(pattern.data())) throw std::runtime_error("no folder for a database");
    folder_ = pattern;
    if (::geteuid() == 0) {
        const auto* user = ::getpwnam("postgres");
        if (!user || ::chown(folder_.c_str(), user->pw_uid, user->pw_gid) != 0)
            throw std::runtime_error("there is no user postgres: .ci/setup test");
    }
    must(as_its_user(std::string(programs) + "initdb -D " + folder_ +
                     "/data -A trust -U fieldpeg -E UTF8 --locale=C.UTF-8 --no-sync"));
    start();
}

Cluster::~Cluster() {
    if (postmaster() != 0)
        std::system(as_its_user(std::string(programs) + "pg_ctl -D " + folder_ +
                                "/data -m immediate stop >/dev/null 2>&1")
                        .c_str());
    std::error_code ignored;
    fs::remove_all(folder_, ignored);
}

Cluster& Cluster::shared() {
    static Cluster one;
    return one;
}

void Cluster::start() {
    // What was killed leaves its socket, and may leave the number of its process to another's.
    std::error_code ignored;
    fs::remove(folder_ + "/.s.PGSQL.5432", ignored);
    fs::remove(folder_ + "/.s.PGSQL.5432.lock", ignored);
    must(as_its_user(std::string(programs) + "pg_ctl -D " + folder_ + "/data -l " + folder_ +
                     "/log -w -t 30 -o \"-k " + folder_ +
                     " -c listen_addresses='' -c shared_buffers=32MB -c max_connections=60 " +
                     (sync_ == Sync::off ? "-c fsync=off " : "") + "\" start"));
}

void Cluster::stop() {
    must(as_its_user(std::string(programs) + "pg_ctl -D " + folder_ + "/data -m fast -w stop"));
}

pid_t Cluster::postmaster() const {
    std::ifstream file(folder_ + "/data/postmaster.pid");
    pid_t number = 0;
    file >> number;
    return number;
}

void Cluster::signal_all(int signal) const {
    for (const auto one : family(postmaster())) ::kill(one, signal);
}

void Cluster::kill() {
    const auto all = family(postmaster());
    for (const auto one : all) ::kill(one, SIGKILL);
    for (const auto one : all)
        while (::kill(one, 0) == 0 && fs::exists("/proc/" + std::to_string(one) + "/exe"))
            std::this_thread::sleep_for(5ms);
    fs::remove(folder_ + "/data/postmaster.pid");
}

void Cluster::freeze() {
    signal_all(SIGSTOP);
}

void Cluster::thaw() {
    signal_all(SIGCONT);
}

std::string Cluster::address(std::string_view database) const {
    return "postgresql://fieldpeg@/" + std::string(database) + "?host=" + folder_;
}

std::string Cluster::new_database() {
    const auto name = "club" + std::to_string(++databases_);
    run(address("postgres"), "CREATE DATABASE " + name);
    return address(name);
}

std::string Cluster::run(const std::string& address, const std::string& sql) const {
    const std::unique_ptr<PGconn, decltype(&PQfinish)> c(PQconnectdb(address.c_str()), &PQfinish);
    const std::unique_ptr<PGresult, decltype(&PQclear)> done(PQexec(c.get(), sql.c_str()),
                                                             &PQclear);
    const auto status = PQresultStatus(done.get());
    if (status != PGRES_COMMAND_OK && status != PGRES_TUPLES_OK)
        throw std::runtime_error(std::string(PQerrorMessage(c.get())) + " at: " + sql);
    return PQntuples(done.get()) > 0 && PQnfields(done.get()) > 0 ? PQgetvalue(done.get(), 0, 0)
                                                                  : "";
}

}  // namespace fieldpeg::testing
