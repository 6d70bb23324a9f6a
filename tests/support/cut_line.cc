#include "tests/support/cut_line.h"

#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <list>
#include <stdexcept>
#include <vector>

namespace fieldpeg::testing {
namespace {

sockaddr_un named(const std::string& folder, int port) {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    std::snprintf(address.sun_path, sizeof address.sun_path, "%s/.s.PGSQL.%d", folder.c_str(),
                  port);
    return address;
}

int socket_to(const sockaddr_un& at) {
    const int to = ::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (::connect(to, reinterpret_cast<const sockaddr*>(&at), sizeof at) != 0) {
        ::close(to);
        return -1;
    }
    return to;
}

struct Pair {
    int client, database;
};

}  // namespace

CutLine::CutLine(const std::string& folder)
    : folder_(folder), listener_(::socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0)) {
    const auto at = named(folder_, port);
    ::unlink(at.sun_path);
    if (::bind(listener_, reinterpret_cast<const sockaddr*>(&at), sizeof at) != 0 ||
        ::listen(listener_, 16) != 0)
        throw std::runtime_error("no line to the database");
    thread_ = std::thread([this] { carry(); });
}

CutLine::~CutLine() {
    ends_ = true;
    thread_.join();
    ::close(listener_);
    ::unlink(named(folder_, port).sun_path);
}

void CutLine::cut_after(Way way, std::size_t bytes) {
    was_cut_ = false;
    way_ = way;
    left_ = bytes;
    is_armed_ = true;
}

void CutLine::carry() {
    std::list<Pair> pairs;
    const auto end_all = [&] {
        for (const auto& p : pairs) {
            ::close(p.client);
            ::close(p.database);
        }
        pairs.clear();
    };
    while (!ends_) {
        std::vector<pollfd> ready{{listener_, POLLIN, 0}};
        for (const auto& p : pairs) {
            ready.push_back({p.client, POLLIN, 0});
            ready.push_back({p.database, POLLIN, 0});
        }
        ::poll(ready.data(), ready.size(), 20);
        if (ready[0].revents != 0) {
            const int client = ::accept(listener_, nullptr, nullptr);
            const int database = stays_cut_ ? -1 : socket_to(named(folder_, 5432));
            if (database < 0)
                ::close(client);
            else
                pairs.push_back({client, database});
        }
        bool is_cut = stays_cut_ && was_cut_;
        for (std::size_t i = 1; i < ready.size() && !is_cut; ++i) {
            if (ready[i].revents == 0) continue;
            auto p = pairs.begin();
            std::advance(p, (i - 1) / 2);
            const bool to_database = i % 2 == 1;
            char part[4096];
            auto size = ::read(ready[i].fd, part, sizeof part);
            if (size <= 0) {
                ::close(p->client);
                ::close(p->database);
                pairs.erase(p);
                break;
            }
            if (is_armed_ && (way_ == Way::to_database) == to_database) {
                const auto through = std::min(static_cast<std::size_t>(size), left_.load());
                is_cut = through < static_cast<std::size_t>(size);
                left_ -= through;
                size = static_cast<ssize_t>(through);
            }
            if (::send(to_database ? p->database : p->client, part, static_cast<std::size_t>(size),
                       MSG_NOSIGNAL) < 0)
                is_cut = true;
        }
        if (!is_cut) continue;
        is_armed_ = false;
        was_cut_ = true;
        end_all();
    }
    end_all();
}

}  // namespace fieldpeg::testing
