#include "server/options.h"

#include <CLI/CLI.hpp>

namespace fieldpeg {

void add_options(CLI::App& program, Options& options) {
    program.name("fieldpegd");
    program.description(
        "The server of a flying day: it holds the day's log and answers everybody on the field.");
    program
        .add_option("--day", options.day,
                    "the day file; its log is beside it; default: day.toml, and an empty day where "
                    "that is not there")
        ->type_name("FILE");
    program.add_flag(
        "--new", options.begins_new,
        "where there is no day file and no log, begin an empty day: it is set up on the "
        "marshal's page or with fieldpeg");
    program.add_option("--name", options.name, "what an empty day is called")->type_name("TEXT");
    program.add_option("--listen", options.listen, "where to listen")
        ->type_name("ADDRESS:PORT")
        ->capture_default_str();
    program
        .add_option(
            "--host", options.host,
            "how others reach this machine, for tickets; default: its address on the network")
        ->type_name("NAME");
    program
        .add_option("--board", options.board,
                    "where the page for phones is served; 'none': nowhere; default: the address of "
                    "--listen, the next port")
        ->type_name("ADDRESS:PORT");
    program
        .add_option("--board-identity", options.board_identity,
                    "a certificate of the club's own for the page, with its key in one PEM file")
        ->type_name("FILE");
    program
        .add_option("--log", options.log,
                    "the log in a PostgreSQL database that several servers reach, instead of a "
                    "file; said once, it is kept beside the day file")
        ->type_name("postgresql://HOST/DATABASE");
    program.add_flag("--follow", options.follow,
                     "wait beside the server that has the day in the database, and take it over "
                     "when that one is gone");
    program.add_flag("--no-discovery", options.no_discovery,
                     "do not answer clients that look for a server");
    program.add_flag("--renew-secrets", options.renew_secrets,
                     "another certificate, three new tickets, and nobody's key is good any more; "
                     "then ends. With --listen and --host as for serving");
    program.add_flag("-v,--verbose", options.verbose, "say more on stderr");
    program.set_version_flag("--version", "fieldpegd " FIELDPEG_VERSION);
    program.footer(
        "The first start makes the log, a certificate and the tickets, beside the day file.\n"
        "The day file is only read. One program at a time holds a day.\n"
        "Was the laptop stolen, or a copy of its files? --renew-secrets, on a copy that is left.\n"
        "Exit status: 0 stopped when asked, 1 failed, 2 bad input or nothing to listen on.\n"
        "Examples:\n"
        "  fieldpegd --name 'Saturday at the meadow'\n"
        "  fieldpegd --day saturday.toml\n"
        "  fieldpegd --day saturday.toml --listen 192.168.4.1:7323\n"
        "  fieldpegd --day saturday.toml --board none\n"
        "  fieldpegd --day saturday.toml --log postgresql://club-server/club --follow");
}

}  // namespace fieldpeg
