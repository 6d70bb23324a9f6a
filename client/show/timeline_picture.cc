#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "client/show/times.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <string>

namespace fieldpeg::show {
namespace {

std::string look_of(const std::string& kind) {
    if (kind == "on_air" || kind == "told_on") return "on";
    if (kind == "sighting") return "seen";
    return kind == "bench" || kind == "down" ? kind : "held";
}

Words words(const v1::TimelinePictureReply& r) {
    Words w;
    w.title = fmt::format("{}: who was on which frequency", r.day());
    w.head = {fmt::format("From {} to {}.", clock_text(r.from_ms()), clock_text(r.until_ms())),
              "Full: on the air; hatched: bench; open: held; crossed: down; dashed: seen. Marks "
              "below: warnings."};
    return w;
}

}  // namespace

std::string timeline_picture(const v1::TimelinePictureReply& r) {
    Svg svg(r.paper(), r.height(), words(r));
    const auto& frame = r.frame();
    const double bottom = frame.top() + frame.height();
    for (const auto& t : r.ticks()) svg.line({t.x(), frame.top()}, {t.x(), bottom}, "grid");
    for (const auto& row : r.rows()) {
        const double y = row.box().top() + row.box().height();
        svg.line({row.box().left(), y}, {row.box().left() + row.box().width(), y}, "grid");
    }
    for (const auto& s : r.stretches()) {
        svg.open(fmt::format("{} {} at {}, {} to {}", s.transmitter(), way_text(s.kind()),
                             day::power_text(s.power_dbm()), clock_text(s.from_ms()),
                             clock_text(s.to_ms())));
        svg.rect(s.box(), look_of(s.kind()));
        svg.close();
    }
    for (const auto& w : r.warnings()) {
        svg.open(fmt::format("{} {}", clock_text(w.at_ms()), w.text()));
        svg.line(w.mark(), "warning");
        svg.close();
    }
    svg.rect(frame, "axis");
    for (const auto& l : r.labels()) svg.label(l);
    for (const auto& t : r.ticks()) {
        v1::Label time;
        time.add_lines(clock_text(t.at_ms()).substr(0, 5));
        *time.mutable_box() = t.box();
        time.set_align(v1::Label::middle);
        svg.label(time);
    }
    return svg.str();
}

}  // namespace fieldpeg::show
