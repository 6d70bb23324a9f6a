#include "server/service/inspection.h"

#include "tests/support/kept_day.h"

#include <SQLiteCpp/SQLiteCpp.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <map>
#include <random>
#include <string>
#include <vector>

/// A log cut off, or one bit of it turned, at many places. What is read afterwards is held against
/// what SQLite alone reads from the whole file. FIELDPEG_PLACES says how many places.
namespace fieldpeg::service {
namespace {

using testing::claim;
using testing::KeptDay;
using testing::read_file;
using testing::release;
using testing::write_file;

/// Every entry, column by column, as plain SQL gives it; empty where that fails.
std::vector<std::string> entries_in(const std::string& path) {
    std::vector<std::string> all;
    try {
        SQLite::Database db(path, SQLite::OPEN_READONLY);
        db.exec("PRAGMA writable_schema = ON");  // though the definition of a table is damaged
        SQLite::Statement select(
            db,
            "SELECT version || ' ' || at_ms || ' ' || actor || ' ' || subject || ' ' || kind || ' "
            "' "
            "|| coalesce(frequency_mhz, '') || ' ' || coalesce(power_dbm, '') || ' ' || "
            "hex(record) || ' ' || hex(hash) FROM event ORDER BY version");
        while (select.executeStep()) all.push_back(select.getColumn(0).getString());
    } catch (const SQLite::Exception&) {
        all.clear();
    }
    return all;
}

bool is_beginning_of(const std::vector<std::string>& all, const std::vector<std::string>& part) {
    return part.size() <= all.size() && std::equal(part.begin(), part.end(), all.begin());
}

/// Folders are made in memory meanwhile, where there is such a place: this is not about the disk,
/// and would wait for it most of the time.
class InMemory {
public:
    InMemory() : had_one_(std::getenv("TMPDIR") != nullptr) {
        if (!had_one_ && std::filesystem::is_directory("/dev/shm"))
            ::setenv("TMPDIR", "/dev/shm", 1);
    }
    ~InMemory() {
        if (!had_one_) ::unsetenv("TMPDIR");
    }
    InMemory(const InMemory&) = delete;
    InMemory& operator=(const InMemory&) = delete;

private:
    bool had_one_;
};

std::size_t places() {
    const char* set = std::getenv("FIELDPEG_PLACES");
    return set ? std::strtoul(set, nullptr, 10) : 60;
}

class DamagedPlaces : public ::testing::Test {
protected:
    DamagedPlaces() {
        const auto secret = day_.ticket(v1::Role::onlooker);
        day_.enter(secret, "Edda", 'e');
        for (int i = 0; i < 12; ++i) {
            // Of few is the answer kept, which is long and no entry.
            day_.take(claim("Ann", "R3"), {}, i % 6 == 0 ? "once " + std::to_string(i) : "");
            day_.take(release("Ann", "somebody else flies first"));
        }
    }

    /// Copies the log as it is now, with what is not yet taken over.
    void copy_it() {
        for (const auto* part : {"", "-wal"}) {
            bytes_[part] = std::filesystem::exists(day_.files().log + part)
                               ? read_file(day_.files().log + part)
                               : std::string();
        }
        put_back();
        whole_ = entries_in(copy_);
        ASSERT_GT(whole_.size(), 20U);
    }

    void put_back() const {
        for (const auto* part : {"", "-wal", "-shm"}) std::filesystem::remove(copy_ + part);
        for (const auto& [part, bytes] : bytes_)
            if (!bytes.empty()) write_file(copy_ + part, bytes);
    }

    /// What is wrong with how a damaged copy is judged and saved; empty if nothing is. In the log
    /// itself nothing may be missing where it is said to hold; what was not yet taken over may end
    /// sooner, as it may when the power goes.
    std::string wrong(bool may_end_sooner) {
        const auto before = read_file(copy_);
        const auto said = verified(copy_);
        if (!said && (said.error().where != copy_ || said.error().next.empty()))
            return "refused without saying what to do: " + said.error().why;
        const bool holds = said && said->verified();
        ++(holds ? held_ : fell_);
        const auto there = entries_in(copy_);
        if (holds && (!is_beginning_of(whole_, there) || there.empty()))
            return "said to hold, and is another";
        if (holds && !may_end_sooner && there != whole_) return "said to hold, and ends sooner";
        if (said && !holds && said->fault().find("entry ") == std::string::npos && there != whole_)
            return "no entry is named: " + said->fault();
        for (const auto* part : {"", "-wal", "-shm"}) std::filesystem::remove(saved_ + part);
        const auto saved = salvage(copy_, saved_);
        if (read_file(copy_) != before) return "the damaged log was written to";
        if (saved) return wrong_with_saved(*saved, said ? said->last_version() : 0);
        if (saved.error().why.empty() || saved.error().next.empty())
            return "not saved, without saying why";
        if (std::filesystem::exists(saved_)) return "not saved, and a file is there";
        return holds ? "said to hold, and cannot be saved: " + saved.error().why : "";
    }

    std::string wrong_with_saved(const Salvage& saved, std::uint64_t standing) {
        const auto there = entries_in(saved_);
        if (there.size() != saved.entries) return "as many entries as are told are not there";
        if (saved.entries != standing) return "not all that stands was saved";
        if (!is_beginning_of(whole_, there)) return "what was saved is another";
        const auto again = verified(saved_);
        if (!again || !again->verified()) return "what was saved does not hold";
        most_saved_ = std::max(most_saved_, there.size());
        return "";
    }

    void turn_a_bit(const char* part, std::size_t place, bool may_end_sooner) {
        put_back();
        auto bytes = bytes_.at(part);
        bytes[place] = static_cast<char>(bytes[place] ^ (1 << rng_() % 8));
        write_file(copy_ + part, bytes);
        EXPECT_EQ(wrong(may_end_sooner), "") << "a bit turned in byte " << place << part;
    }

    void cut(const char* part, std::size_t place, bool may_end_sooner) {
        put_back();
        write_file(copy_ + part, bytes_.at(part).substr(0, place));
        EXPECT_EQ(wrong(may_end_sooner), "") << "cut at byte " << place << part;
    }

    /// A place in each of so many equal parts.
    template <class Damage>
    void at_places(const char* part, Damage damage) {
        const auto size = bytes_.at(part).size();
        const auto all = std::min(places(), size);
        for (std::size_t i = 0; i < all && !HasFailure(); ++i) {
            const auto from = i * size / all, to = (i + 1) * size / all;
            damage(from + rng_() % (to - from));
        }
        RecordProperty("held", held_);
        RecordProperty("fell", fell_);
    }

    const InMemory in_memory_;
    KeptDay day_;
    testing::TemporaryFolder folder_;
    const std::string copy_ = folder_.at("copy.daylog"), saved_ = folder_.at("saved.daylog");
    std::map<std::string, std::string> bytes_;
    std::vector<std::string> whole_;
    std::mt19937_64 rng_{1};
    int held_ = 0, fell_ = 0;
    std::size_t most_saved_ = 0;
};

TEST_F(DamagedPlaces, WhereABitIsTurnedAreNamedAndWhatStandsBeforeIsSaved) {
    day_.close();
    copy_it();
    at_places("", [&](std::size_t place) { turn_a_bit("", place, false); });
    EXPECT_GT(fell_, 0);
    EXPECT_GT(most_saved_, 0U);
}

TEST_F(DamagedPlaces, WhereItIsCutAreNamedAndWhatStandsBeforeIsSaved) {
    day_.close();
    copy_it();
    at_places("", [&](std::size_t place) { cut("", place, false); });
    EXPECT_EQ(held_, 0);
    EXPECT_GT(most_saved_, 10U);
}

TEST_F(DamagedPlaces, OfWhatIsNotYetTakenOverLeaveABeginning) {
    copy_it();
    ASSERT_GT(bytes_["-wal"].size(), 0U);
    at_places("-wal", [&](std::size_t place) { turn_a_bit("-wal", place, true); });
    at_places("-wal", [&](std::size_t place) { cut("-wal", place, true); });
}

}  // namespace
}  // namespace fieldpeg::service
