#include "server/board/pages.h"

#include "server/board/code.h"
#include "server/board/embedded.h"
#include "tests/support/gunzip.h"

#include <gtest/gtest.h>

#include <iterator>
#include <regex>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

/// What is given for a path, and whether it may be kept. What statuses and fields mean: [RFC9110],
/// [RFC9111], [RFC8246].
namespace fieldpeg::board {
namespace {

const Site our_site{{"pegs.example.org"},
                    "A <day> & \"@SCRIPT@\"",
                    std::string(32, '\x5a'),
                    "http://192.168.4.1:7324/hello"};
const Pages pages(our_site);

Request asking(http::field field, const std::string& value) {
    Request r(http::verb::get, "/", 11);
    r.set(http::field::host, "192.168.4.1:7324");
    r.set(field, value);
    return r;
}
const Request plain = asking(http::field::accept, "*/*");

const Page& at(std::string_view path) {
    const auto* page = pages.at(path);
    if (!page) throw std::invalid_argument("no page " + std::string(path));
    return *page;
}

/// The paths that the page asks for.
std::vector<std::string> asked_for() {
    std::vector<std::string> paths;
    const std::regex path(R"re((?:src|href)="(/[^"]*)")re");
    const auto& html = at("/").text;
    for (std::sregex_iterator it(html.begin(), html.end(), path), end; it != end; ++it)
        paths.push_back((*it)[1]);
    return paths;
}

TEST(Pages, AreOneByFourPaths) {
    for (const auto* path : {"/join", "/hello", "/board"})
        EXPECT_EQ(at(path).text, at("/").text) << path;
    for (const auto* path :
         {"", "/../server.pem", "/board.js", "/board.css", "/icon.svg", "/favicon.ico", "/BOARD",
          "/board-.js", "/board-aaaaaaaaaaaaaaaa.js", "/board.html", "/live"})
        EXPECT_EQ(pages.at(path), nullptr) << path;
}

TEST(Pages, TakeTheDaysNameAsText) {
    const auto& text = at("/").text;
    EXPECT_NE(text.find("A &lt;day&gt; &amp; &quot;@SCRIPT@&quot;"), std::string::npos);
    EXPECT_EQ(text.find("<day>"), std::string::npos);
    for (const auto* mark :
         {"@DAY@", "@GERMAN@", "@STYLE@", "@ICON@", "@SHA256@", "@SPELLED@", "@ADDRESS@"})
        EXPECT_EQ(text.find(mark), std::string::npos) << mark;
}

TEST(Pages, AskForNothingButWhatIsThereAndMayBeKeptForGood) {
    const auto paths = asked_for();
    EXPECT_GE(paths.size(), 3U);
    for (const auto& path : paths) {
        ASSERT_NE(pages.at(path), nullptr) << path;
        EXPECT_NE(at(path).keeping.find("immutable"), std::string::npos) << path;
        EXPECT_TRUE(std::regex_match(path, std::regex("/[a-z]+-[a-z2-7]{16}\\.(js|css|svg)")))
            << path;
        EXPECT_FALSE(at(path).text.empty()) << path;
        EXPECT_EQ(at(path).text.find("http://"), at(path).text.find("http://www.w3.org"))
            << path << " asks for something elsewhere";
    }
}

// A script of modules would be asked for one after the other.
TEST(Pages, HaveOneScriptThatImportsNothingButTheOtherLanguage) {
    const std::string text(embedded_file("board.js"));
    const std::regex imports(R"re(\bimport\s*([{*"'\w]|\([^)]*\)))re");
    const std::sregex_iterator first(text.begin(), text.end(), imports), none;
    ASSERT_EQ(std::distance(first, none), 1);
    EXPECT_NE(first->str().find("dataset.german"), std::string::npos) << first->str();
    EXPECT_LT(text.size(), 150'000U);
}

TEST(Pages, AreSentSmallToWhomTakesIt) {
    auto paths = asked_for();
    paths.emplace_back("/");
    for (const auto& path : paths) {
        const auto& page = at(path);
        const auto small = given(page, asking(http::field::accept_encoding, "br, gzip;q=0.8"));
        EXPECT_EQ(small[http::field::content_encoding], "gzip") << path;
        EXPECT_EQ(small[http::field::vary], "Accept-Encoding") << path;
        EXPECT_EQ(testing::gunzipped(small.body()), page.text) << path;
        const auto large = given(page, plain);
        EXPECT_EQ(large[http::field::content_encoding], "") << path;
        EXPECT_EQ(large[http::field::vary], "Accept-Encoding") << path;
        EXPECT_EQ(large.body(), page.text) << path;
    }
}

TEST(Pages, AreSentAsTheBrowserWishes) {
    const auto coded = [](const std::string& accepted) {
        const auto reply = given(at("/"), asking(http::field::accept_encoding, accepted));
        return std::string(reply[http::field::content_encoding]);
    };
    for (const auto* yes : {"gzip", "GZIP", "deflate, gzip", "*", "gzip;q=0.001", "*;q=0, gzip"})
        EXPECT_EQ(coded(yes), "gzip") << yes;
    for (const auto* no : {"", "identity", "br", "gzip;q=0", "gzip;q=0.000, *", "*;q=0", "gzipped"})
        EXPECT_EQ(coded(no), "") << no;
}

TEST(Pages, AreNotSentAgainToWhomHasThem) {
    const auto& page = at("/");
    const auto first = given(page, plain);
    EXPECT_EQ(first[http::field::cache_control], "no-cache");
    const std::string tag = first[http::field::etag];
    ASSERT_TRUE(tag.starts_with("W/\"") && tag.ends_with("\"") && tag.size() > 10) << tag;
    for (const auto& had : {tag, "\"other\", " + tag, tag.substr(2), std::string("*")}) {
        const auto again = given(page, asking(http::field::if_none_match, had));
        EXPECT_EQ(again.result_int(), 304U) << had;
        EXPECT_TRUE(again.body().empty());
        EXPECT_EQ(again[http::field::etag], tag);
        EXPECT_EQ(again[http::field::cache_control], "no-cache");
    }
    for (const auto& had : {std::string(), std::string("\"other\""), tag.substr(0, 9),
                            tag.substr(3, tag.size() - 4), std::string(8000, ',')}) {
        const auto whole = given(page, asking(http::field::if_none_match, had));
        EXPECT_EQ(whole.result_int(), 200U) << had;
        EXPECT_EQ(whole.body(), page.text) << had;
    }
}

// It is of one page: whoever has another page has another worker.
TEST(Pages, HaveAWorkerThatKnowsWhatBelongsToThem) {
    const auto& worker = at("/sw.js");
    EXPECT_EQ(worker.keeping, "no-cache");
    for (const auto& path : asked_for())
        EXPECT_NE(worker.text.find('"' + path + '"'), std::string::npos) << path;
    EXPECT_EQ(worker.text.find('@'), std::string::npos) << worker.text;
    auto other = our_site;
    other.day = "Another day";
    EXPECT_NE(Pages(other).at("/sw.js")->text, worker.text);
}

// Two more methods read it in tests/web/code.test.mjs: a browser, and a library that knows QR
// codes.
TEST(Pages, HaveACodeThatLeadsHere) {
    const auto& code = at("/code.svg");
    const auto reply = given(code, plain);
    EXPECT_EQ(reply[http::field::cache_control], "no-store");
    EXPECT_TRUE(reply.find(http::field::etag) == reply.end());
    EXPECT_EQ(reply.body(), code_picture("http://192.168.4.1:7324/hello"));
    // 29 characters are in version 2, of 25 modules [ISO.18004, 7.1]; 8 more are quiet.
    EXPECT_NE(code.text.find("viewBox=\"0 0 33 33\""), std::string::npos);
    auto mute = our_site;
    mute.hello = std::string(4000, 'x');
    EXPECT_EQ(Pages(mute).at("/code.svg"), nullptr);
}

TEST(Pages, HaveOtherTagsWhereTheySayOtherThings) {
    auto other = our_site;
    other.day = "Another day";
    const Pages others(other);
    EXPECT_NE(others.at("/")->tag, at("/").tag);
    for (const auto& path : asked_for()) {
        ASSERT_NE(others.at(path), nullptr);
        EXPECT_EQ(others.at(path)->tag, at(path).tag);
    }
}

}  // namespace
}  // namespace fieldpeg::board
