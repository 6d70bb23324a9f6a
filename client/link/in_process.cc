#include "client/link/in_process.h"

#include "server/book/day_file.h"
#include "server/service/answer.h"

#include <spdlog/spdlog.h>

#include <utility>

namespace fieldpeg::link {

v1::Answer InProcess::ask(const v1::Query& query) {
    return service::answer(query, sheet_ ? &*sheet_ : nullptr);
}

std::unique_ptr<Link> open_day(const std::string& path, book::Problems& problems) {
    auto sheet = book::load_day(path, problems);
    if (!sheet) return nullptr;
    spdlog::debug("{}: {} pilots, {} relays, {} places", path, sheet->pilots_size(),
                  sheet->relays_size(), sheet->field().places_size());
    return std::make_unique<InProcess>(*std::move(sheet));
}

}  // namespace fieldpeg::link
