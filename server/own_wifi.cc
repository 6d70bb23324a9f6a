#include "server/own_wifi.h"

#include <linux/wireless.h>
#include <net/if.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstring>

namespace fieldpeg {
namespace {

/// A frequency is told as m x 10^e Hz; below 1000 it is the number of a channel, of no use here.
double mhz(const iw_freq& told) {
    return told.m * std::pow(10.0, told.e) / 1e6;
}

}  // namespace

std::vector<double> own_wifi_mhz() {
    constexpr double lowest_mhz = 1000;
    std::vector<double> all;
    const int socket = ::socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (socket < 0) return all;
    auto* interfaces = if_nameindex();
    for (auto* one = interfaces; one != nullptr && one->if_index != 0; ++one) {
        iwreq ask{};
        std::strncpy(ask.ifr_name, one->if_name, IFNAMSIZ - 1);
        if (::ioctl(socket, SIOCGIWFREQ, &ask) != 0) continue;
        const double at = mhz(ask.u.freq);
        if (at >= lowest_mhz && std::ranges::find(all, at) == all.end()) all.push_back(at);
    }
    if (interfaces != nullptr) if_freenameindex(interfaces);
    ::close(socket);
    return all;
}

}  // namespace fieldpeg
