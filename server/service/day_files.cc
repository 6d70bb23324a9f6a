#include "server/log/database_place.h"
#include "server/service/keeper.h"
#include "server/service/private_file.h"

#include <filesystem>
#include <fstream>

namespace fieldpeg::service {
namespace {

namespace fs = std::filesystem;

std::string stem_of(const std::string& day_file) {
    return fs::path(day_file).replace_extension().string();
}

/// Where it is kept which database has the log: its address in one line.
std::string note_of(const std::string& day_file) {
    return stem_of(day_file) + ".database";
}

std::string noted(const std::string& day_file) {
    std::ifstream note(note_of(day_file));
    std::string place;
    std::getline(note, place);
    return log::is_database(place) ? place : "";
}

}  // namespace

DayFiles files_of(const std::string& day_file) {
    const auto stem = stem_of(day_file);
    auto database = noted(day_file);
    return {day_file, database.empty() ? stem + ".daylog" : std::move(database),
            stem + ".identity.pem", stem + ".tickets"};
}

Result<DayFiles> files_of(const std::string& day_file, const std::string& log) {
    auto files = files_of(day_file);
    if (log.empty()) return files;
    if (!log::is_database(log))
        return Refusal{
            Refusal::Kind::malformed, "--log", "is no database",
            "postgresql://HOST/DATABASE; without --log it is a file beside the day file"};
    const auto day = fs::path(day_file).stem().string();
    const auto place = log::database_place(log).day.empty() ? log + "#" + day : log;
    if (place == files.log) return files;
    if (log::is_database(files.log))
        return Refusal{Refusal::Kind::conflict, note_of(day_file),
                       "says that the log of this day is in another database",
                       "is it the right day? To begin anew: another name for the day file"};
    std::error_code none;
    if (fs::exists(files.log, none))
        return Refusal{Refusal::Kind::conflict, files.log, "is there: the day has begun in a file",
                       "a day goes on where it began; --log is for one that begins"};
    // Only for its owner: a password may be in it.
    if (auto kept = write_private(note_of(day_file), place + '\n', Existing::goes); !kept)
        return kept.error();
    files.log = place;
    return files;
}

bool has_begun(const DayFiles& files) {
    return log::DayLog::exists(files.log);
}

}  // namespace fieldpeg::service
