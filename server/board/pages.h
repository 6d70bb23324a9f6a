#pragma once

#include "server/board/door.h"

#include <functional>
#include <map>
#include <string>
#include <string_view>

/// What is given to whoever asks for a page. Pure.
namespace fieldpeg::board {

/// One thing that may be asked for, in both ways in which it is sent.
struct Page {
    std::string type;
    std::string keeping;  ///< how long a browser may keep it: Cache-Control
    std::string text;
    std::string gzipped = {};
    std::string tag = {};  ///< of what it holds: ETag
};

/// All pages of a site by their paths, made once. What may be kept for good has a hash of what it
/// holds in its path, so that another program's files have other paths.
class Pages {
public:
    explicit Pages(const Site& site);

    /// Null: there is no such page.
    const Page* at(std::string_view path) const;

private:
    std::map<std::string, Page, std::less<>> pages_;
};

/// A page as the request's Accept-Encoding wants it; 304 if the browser has this one already.
Response given(const Page& page, const Request& request);

}  // namespace fieldpeg::board
