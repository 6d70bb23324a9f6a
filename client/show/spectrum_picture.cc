#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "server/day/words.h"

#include <fmt/format.h>

#include <string>
#include <vector>

namespace fieldpeg::show {
namespace {

using Reply = v1::SpectrumPictureReply;

std::string summary(const v1::ReceiverResult& r) {
    auto text = fmt::format("on {} MHz", day::mhz_text(r.channel_mhz()));
    if (r.channel() != day::mhz_text(r.channel_mhz())) text = r.channel() + " " + text;
    if (r.has_margin_ref_db())
        text += fmt::format(": margin {} dB, {} dB at worst, {}", db_text(r.margin_ref_db()),
                            db_text(r.margin_worst_db()), verdict_text(r.verdict(), {}));
    return text + (r.reason().empty() ? "" : "; " + r.reason());
}

Words words(const Reply& r) {
    Words w;
    w.title = fmt::format("At {}'s {}", r.result().owner(), r.result().receiver());
    w.head = {summary(r.result())};
    std::string foot = "Dark: what it is to hear. Grey: others. Dashed: its filter. Dotted: noise.";
    if (!r.products().empty()) foot += " Hatched: products, as high as they count.";
    std::vector<std::string> elsewhere;
    for (const auto& e : r.elsewhere())
        elsewhere.push_back(
            fmt::format("{} ({} MHz)", e.transmitter(), day::mhz_text(e.channel().mhz())));
    if (!elsewhere.empty()) foot += fmt::format(" On other bands: {}.", fmt::join(elsewhere, ", "));
    w.foot = {foot + " An estimate from declared gear and places."};
    return w;
}

/// One dial as it is drawn.
class Dial {
public:
    explicit Dial(const Reply& reply) : r_(reply), svg_(r_.paper(), r_.height(), words(r_)) {}

    std::string picture() {
        svg_.open_frame(r_.frame());
        grid();
        for (const bool wanted : {false, true})
            for (const auto& s : r_.signals())
                if (s.wanted() == wanted) emission(s);
        for (const auto& p : r_.products()) product(p);
        if (!r_.measured().empty()) {
            svg_.open("measured: the last sweep");
            svg_.path(curve(r_.measured()), false, "measured");
            svg_.close();
        }
        svg_.open("the receiver's filter");
        svg_.path(curve(r_.selectivity()), false, "filter");
        svg_.close();
        svg_.line({left(), y(r_.noise_dbm())}, {right(), y(r_.noise_dbm())}, "noise");
        svg_.close_frame();
        svg_.rect(r_.frame(), "axis");
        for (const auto& l : r_.labels()) svg_.label(l);
        return svg_.str();
    }

private:
    double left() const { return r_.frame().left(); }
    double right() const { return left() + r_.frame().width(); }
    double top() const { return r_.frame().top(); }
    double bottom() const { return top() + r_.frame().height(); }
    double x(double mhz) const {
        return left() + r_.frame().width() * (mhz - r_.low_mhz()) / (r_.high_mhz() - r_.low_mhz());
    }
    double y(double dbm) const {
        return bottom() -
               r_.frame().height() * (dbm - r_.bottom_dbm()) / (r_.top_dbm() - r_.bottom_dbm());
    }

    void grid() {
        for (const double f : r_.grid_mhz()) svg_.line({x(f), top()}, {x(f), bottom()}, "grid");
        for (const double p : r_.grid_dbm()) svg_.line({left(), y(p)}, {right(), y(p)}, "grid");
    }

    template <class Points>
    std::vector<Svg::Point> curve(const Points& points) const {
        std::vector<Svg::Point> drawn;
        for (const auto& p : points) drawn.emplace_back(x(p.mhz()), y(p.dbm()));
        return drawn;
    }

    /// The same down to the frame's lower edge at both ends.
    template <class Points>
    std::vector<Svg::Point> body(const Points& points) const {
        auto drawn = curve(points);
        if (drawn.empty()) return drawn;
        drawn.emplace_back(drawn.back().first, bottom() + 1);
        drawn.insert(drawn.begin(), {drawn.front().first, bottom() + 1});
        return drawn;
    }

    void emission(const Reply::Signal& s) {
        svg_.open(fmt::format("{} on {}", s.transmitter(), day::channel_text(s.channel())));
        svg_.path(body(s.density()), true, s.wanted() ? "wanted" : "other");
        svg_.close();
    }

    void product(const Reply::Product& p) {
        const auto& c = p.contribution();
        svg_.open(fmt::format("{} = {} MHz, {:.0f} dBm", makers_text(c),
                              day::mhz_text(c.product_mhz()), c.level_dbm()));
        svg_.path(body(p.density()), true, "product");
        svg_.close();
    }

    const Reply& r_;
    Svg svg_;
};

}  // namespace

std::string spectrum_picture(const Reply& reply) {
    return Dial(reply).picture();
}

}  // namespace fieldpeg::show
