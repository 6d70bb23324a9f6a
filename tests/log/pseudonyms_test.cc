#include "server/log/pseudonyms.h"

#include "tests/support/random.h"

#include "fieldpeg/v1/event.pb.h"
#include "fieldpeg/v1/wire.pb.h"

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include <cctype>
#include <string>
#include <string_view>

namespace fieldpeg::log {
namespace {

using google::protobuf::util::MessageDifferencer;
using testing::chance;
using testing::for_all;
using testing::whole;

const Names club = {{1, "Ann"}, {2, "Bob"}, {3, "Ann Bob"}, {4, "Zoë"}, {5, "mast 2"}};

v1::Event with_reason(const std::string& text) {
    v1::Event event;
    event.mutable_released()->set_reason(text);
    return event;
}

/// The text as it is stored.
std::string taken(const std::string& text, const Names& names = club) {
    auto event = with_reason(text);
    take_names(event, names);
    return event.released().reason();
}

std::string put_back(const std::string& stored, const Names& names = club) {
    auto event = with_reason(stored);
    put_names(event, names);
    return event.released().reason();
}

bool is_letter(char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0;
}

/// Whether a name stands somewhere in bytes with nothing beside it that would be a longer word.
bool holds_word(std::string_view bytes, std::string_view name) {
    for (auto at = bytes.find(name); at != std::string_view::npos; at = bytes.find(name, at + 1)) {
        const auto end = at + name.size();
        const bool inside =
            (at > 0 && is_letter(bytes[at - 1])) || (end < bytes.size() && is_letter(bytes[end]));
        if (!inside) return true;
    }
    return false;
}

TEST(Pseudonyms, TakeANameOutOfAText) {
    for (const auto* text : {"Ann", "Ann, who waits", "ask Ann", "(Ann)", "Ann's", "to Ann. Again",
                             "Zoë", "at mast 2!"}) {
        EXPECT_EQ(put_back(taken(text)), text);
        for (const auto& [id, name] : club)
            EXPECT_FALSE(holds_word(taken(text), name)) << taken(text);
    }
}

TEST(Pseudonyms, LeaveLongerWordsAlone) {
    for (const auto* text : {"Anna", "AnnBob", "Joann", "Ann2", "Ann-Marie", "Annë", "", "nobody"})
        EXPECT_EQ(taken(text), text);
}

TEST(Pseudonyms, TakeTheLongestNameFirst) {
    const auto stored = taken("Ann Bob");
    EXPECT_EQ(put_back(stored, {{3, "Cy"}}), "Cy");
    EXPECT_EQ(put_back(taken("Ann Bob"), {{1, "x"}, {2, "y"}, {3, "Ann Bob"}}), "Ann Bob");
}

TEST(Pseudonyms, GiveEachNameItsOwnPerson) {
    EXPECT_EQ(put_back(taken("Ann waits for Bob"), {{1, "One"}, {2, "Two"}}), "One waits for Two");
}

TEST(Pseudonyms, ShowANumberForANameThatWasRemoved) {
    auto names = club;
    names.erase(1);
    EXPECT_EQ(put_back(taken("Ann waits for Bob"), names), "person 1 waits for Bob");
}

TEST(Pseudonyms, ReachEveryTextHoweverDeep) {
    v1::ServerFrame m;
    auto& change = *m.mutable_change();
    change.add_happened("Ann claims R3");
    change.add_happened("nothing");
    auto& row = *change.mutable_board()->add_rows();
    row.set_owner("Ann");
    row.set_note("seen by Bob");
    row.mutable_channel()->set_name("Ann");
    const auto before = m;
    take_names(m, club);
    const auto bytes = m.SerializeAsString();
    EXPECT_FALSE(holds_word(bytes, "Ann"));
    EXPECT_FALSE(holds_word(bytes, "Bob"));
    put_names(m, club);
    EXPECT_TRUE(MessageDifferencer::Equals(m, before)) << m.DebugString();
}

TEST(Pseudonyms, LeaveBytesAndNumbersAlone) {
    v1::Welcome m;
    m.set_head_hash("Ann");
    m.set_version(1);
    const auto before = m;
    take_names(m, club);
    EXPECT_TRUE(MessageDifferencer::Equals(m, before));
}

/// A text of pieces that make trouble beside each other.
std::string some_text(std::mt19937_64& rng) {
    const auto pieces = {"Ann", "Bob", "Ann Bob", "Zoë", "mast 2",   "mast", " ", "-",    "_", ".",
                         "'",   "a",   "7",       "é",   "person 1", "\n",   "(", "Anna", ""};
    std::string text;
    for (int i = whole(rng, 0, 8); i > 0; --i)
        text += pieces.begin()[static_cast<std::size_t>(
            whole(rng, 0, static_cast<int>(pieces.size()) - 1))];
    return text;
}

/// Names that begin, end, or are made of what is no letter too, and parts of each other.
Names some_names(std::mt19937_64& rng) {
    Names names;
    const auto all = {"Ann", "Bob", "Ann Bob", "Zoë",    "mast 2",   "mast", "a",
                      "7",   "é",   "-",       "person", "person 1", "'",    "Anna"};
    std::uint32_t id = 0;
    for (const auto* name : all)
        if (++id; chance(rng, 50)) names[id] = name;
    return names;
}

TEST(Pseudonyms, ArePutBackExactlyWhateverTheTextAndTheNames) {
    for_all(3000, [](std::mt19937_64& rng) {
        const auto names = some_names(rng);
        v1::Event event;
        event.mutable_released()->set_reason(some_text(rng));
        event.set_model(some_text(rng));
        const auto before = event;
        take_names(event, names);
        put_names(event, names);
        EXPECT_TRUE(MessageDifferencer::Equals(event, before))
            << before.DebugString() << event.DebugString();
    });
}

// By another rule for what a word is: letters and digits of ASCII with none beside them.
TEST(Pseudonyms, LeaveNoNameAsAWordInWhatIsStored) {
    for_all(3000, [](std::mt19937_64& rng) {
        const Names names = {{11, "Ann"}, {12, "Bob"}, {13, "Ann Bob"}};
        std::string text;
        for (int i = whole(rng, 0, 8); i > 0; --i)
            text += testing::one_of(
                rng, {"Ann", "Bob", "Ann Bob", " ", ". ", ", ", "(", "'s ", "Anna", "flies "});
        v1::Event event;
        event.mutable_seen()->mutable_sighting()->set_note(text);
        take_names(event, names);
        const auto bytes = event.SerializeAsString();
        for (const auto& [id, name] : names)
            EXPECT_FALSE(holds_word(bytes, name)) << text << " -> " << bytes;
    });
}

}  // namespace
}  // namespace fieldpeg::log
