// Writes what the packages have beside the programs, of the one definition of their command lines:
// manual pages and completion. Usage: describe FOLDER

#include "client/verbs/manual.h"
#include "client/verbs/program.h"
#include "server/options.h"

#include <CLI/CLI.hpp>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>

namespace fieldpeg {
namespace {

constexpr const char* date = FIELDPEG_DATE;

bool write(const std::string& path, const std::string& text) {
    std::ofstream out(path);
    out << text << std::flush;
    if (!out) std::cerr << "describe: " << path << ": cannot be written\n";
    return out.good();
}

std::string client_manual() {
    return verbs::manual_page(
        verbs::described(),
        {"1", "fieldpeg " FIELDPEG_VERSION, date,
         "On a club flying day it keeps the video channels of all pilots apart: it reckons "
         "everybody's "
         "margin from declared gear and places, says who can see and who cannot and why, plans "
         "channels and flight groups, and speaks with the day's server, fieldpegd(8).\n"
         "\n"
         "It advises. A good verdict is no promise and no clearance to launch; which bands, powers "
         "and licences are allowed is for the national authority and the club's own rules.\n"
         "\n"
         "'fieldpeg help' lists the guides, which are built in: 'fieldpeg help start' is the "
         "first.",
         "~/.config/fieldpeg/joined.json: what was joined from here, with its key; mode 0600\n"
         "NAME.toml: a day file\n"
         "NAME.daylog: the log of that day",
         "XDG_CONFIG_HOME: in the place of ~/.config\n"
         "TZ: the time zone in which times are read and shown\n"
         "NO_COLOR: if set, no colours\n"
         "PAGER: the program that shows guides on a terminal; less -FRX if it is not set\n"
         "FIELDPEG_ARCHIVE: the archive that is meant where none is named",
         "fieldpegd(8)"});
}

std::string server_manual(const verbs::Program& program) {
    return verbs::manual_page(
        program,
        {"8", "fieldpegd " FIELDPEG_VERSION, date,
         "It keeps one flying day: its log, on disk before anybody is told yes, and the page for "
         "phones. Clients are fieldpeg(1) and browsers.\n"
         "\n"
         "Under systemd the unit fieldpegd.service runs it as a user of its own, with its day in "
         "/var/lib/fieldpeg; it is not started before somebody says so: systemctl enable --now "
         "fieldpegd.",
         "NAME.toml: the day file; only read\n"
         "NAME.daylog: the log\n"
         "NAME.identity.pem: the server's certificate and key, mode 0600\n"
         "NAME.tickets: the tickets of the first start, mode 0600\n"
         "NAME.database: where the log is, if it is in a database, mode 0600\n"
         "/var/lib/fieldpeg: the day of the systemd unit",
         "PGPASSWORD, PGSERVICE and the others of libpq: for a log in a database", "fieldpeg(1)"});
}

}  // namespace
}  // namespace fieldpeg

int main(int argc, char** argv) {
    using namespace fieldpeg;
    if (argc != 2) {
        std::cerr << "usage: describe FOLDER\n";
        return 2;
    }
    const std::string folder = argv[1];
    std::error_code error;
    std::filesystem::create_directories(folder, error);
    CLI::App app;
    Options options;
    add_options(app, options);
    const auto server = verbs::described(app);
    const bool all = write(folder + "/fieldpeg.1", client_manual()) &&
                     write(folder + "/fieldpegd.8", server_manual(server)) &&
                     write(folder + "/fieldpegd.bash", verbs::bash_flags(server)) &&
                     write(folder + "/fieldpegd.zsh", verbs::zsh_flags(server)) &&
                     write(folder + "/fieldpegd.fish", verbs::fish_flags(server));
    return all ? 0 : 1;
}
