#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "server/day/reach.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

using Reply = v1::ReachPictureReply;
using Curve = Reply::Curve;
using Panel = Reply::Panel;

constexpr std::uint32_t dashes = 4;  ///< that tell receivers apart

/// "Whole lines: mast, omni; dashed: mast, panel."
std::string lines_text(const v1::ReachReply& r) {
    constexpr const char* ways[dashes] = {"Whole lines", "dashed", "dotted", "dash and dot"};
    std::vector<std::string> all;
    all.reserve(static_cast<std::size_t>(r.receivers_size()));
    for (int i = 0; i < r.receivers_size(); ++i)
        all.push_back(
            fmt::format("{}: {}", ways[static_cast<std::uint32_t>(i) % dashes],
                        day::receiver_text(r.receivers(i).relay(), r.receivers(i).receiver())));
    return fmt::format("{}.", fmt::join(all, "; "));
}

Words words(const Reply& reply) {
    const auto& r = reply.reach();
    Words w;
    w.title = fmt::format("{}: how far the picture carries", r.pilot());
    if (r.receivers().empty()) return w;
    const auto& first = r.receivers(0);
    w.head = {fmt::format(
        "{} at {}. From above, north up, {:.0f} m high; and from the side, towards the far rim "
        "({}).",
        day::channel_text(first.channel()), day::power_text(first.sent_dbm()),
        (r.low_m() + r.high_m()) / 2, day::compass_text(r.rim_azimuth_deg()))};
    for (const auto& said : r.said()) w.head.push_back(said);
    w.foot = {
        lines_text(r),
        fmt::format("Thick: 98 % of the time, thin: 80 %. Black: nobody else on the air; grey: "
                    "counting {}. Shaded: where it is flown. Flat open ground is assumed.",
                    basis_text(r.basis())),
        std::string(estimates_text)};
    return w;
}

std::string look(const Curve& curve) {
    const bool is_good = curve.kind() == Curve::good || curve.kind() == Curve::good_alone;
    const bool is_alone = curve.kind() == Curve::good_alone || curve.kind() == Curve::usable_alone;
    return fmt::format("reach {} {} r{}", is_good ? "good" : "usable", is_alone ? "alone" : "now",
                       curve.receiver() % dashes);
}

}  // namespace

std::string reach_picture(const Reply& reply) {
    Svg svg(reply.paper(), reply.height(), words(reply));
    for (const auto& panel : reply.panels()) {
        const auto& box = panel.box();
        const Svg::Point middle{box.left() + box.width() / 2, box.top() + box.height() / 2};
        svg.open_frame(box);
        for (const double radius : panel.rings()) svg.circle(middle, radius, "grid");
        for (const auto& line : panel.grid()) svg.line(line, "grid");
        if (panel.kind() == Panel::side) svg.rect(panel.area(), "area");
        for (const auto& curve : panel.curves()) {
            std::vector<Svg::Point> points;
            for (const auto& p : curve.points()) points.emplace_back(p.x(), p.y());
            if (!points.empty()) svg.path(points, panel.kind() == Panel::side, look(curve));
        }
        svg.close_frame();
        svg.rect(box, "axis");
        for (const auto& label : panel.labels()) svg.label(label);
    }
    for (const auto& label : reply.key()) svg.label(label);
    return svg.str();
}

}  // namespace fieldpeg::show
