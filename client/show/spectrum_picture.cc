#include "client/show/look.h"
#include "client/show/picture.h"
#include "client/show/svg.h"
#include "server/day/results.h"
#include "server/day/state.h"
#include "server/day/words.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

namespace fieldpeg::show {
namespace {

using spectrum::Decibel;

constexpr double width = 1000, height = 560;
constexpr double left = 70, right = 950, top = 70, bottom = 500;
constexpr double below_noise_db = 20;  ///< what lies deeper is not drawn
constexpr double above_top_db = 20;    ///< room for names
constexpr double beside_mhz = 25;
constexpr std::size_t products_drawn = 12;

double megahertz(spectrum::Hertz f) {
    return static_cast<double>(f.count()) / 1e6;
}

/// Total power over the density at the centre, in dB of a megahertz: by the trapezoidal rule.
double area_db(const spectrum::Curve& curve) {
    constexpr int steps = 400;
    const double reach_mhz = megahertz(curve.last());
    double sum = 0;
    for (int i = 0; i <= steps; ++i) {
        const double at = reach_mhz * i / steps;
        const double share = std::pow(10, curve.at(spectrum::from_mhz(at)).count() / 10);
        sum += (i == 0 || i == steps ? 0.5 : 1) * share;
    }
    return 10 * std::log10(2 * sum * reach_mhz / steps);
}

/// Draws one receiver's dial.
class Dial {
public:
    Dial(const day::Assessment& assessment, std::size_t receiver)
        : a_(assessment),
          scene_(assessment.situation().scene),
          v_(receiver),
          profile_(assessment.profile(receiver)) {
        noise_db_ = spectrum::noise_power(spectrum::from_mhz(1), profile_.noise_figure).count();
        low_mhz_ = high_mhz_ = tuned_mhz();
        peak_db_ = noise_db_ + 30;
        const auto band = spectrum::band_reference(scene_.transmitters[wanted()].frequency);
        for (std::size_t t = 0; t < scene_.transmitters.size(); ++t) {
            if (peak_db(t) < noise_db_ - below_noise_db) continue;
            if (spectrum::band_reference(scene_.transmitters[t].frequency) != band) {
                elsewhere_.push_back(
                    fmt::format("{} ({} MHz)", a_.situation().transmitters[t].name,
                                day::mhz_text(megahertz(scene_.transmitters[t].frequency))));
                continue;
            }
            drawn_.push_back(t);
            low_mhz_ = std::min(low_mhz_, megahertz(scene_.transmitters[t].frequency));
            high_mhz_ = std::max(high_mhz_, megahertz(scene_.transmitters[t].frequency));
            peak_db_ = std::max(peak_db_, peak_db(t));
        }
        low_mhz_ -= beside_mhz;
        high_mhz_ += beside_mhz;
    }

    std::string picture() {
        const auto& of = a_.situation().receivers[v_];
        const auto result = day::receiver_result(a_, v_, 0);
        const auto title = fmt::format("At {}'s {}", of.owner, of.name);
        Svg svg(width, height, title, summary(result));
        svg.text({left, 26}, title, "big");
        svg.text({left, 46}, summary(result), "");
        axes(svg);
        filter(svg);
        for (const auto t : drawn_)
            if (t != wanted()) emission(svg, t, "other");
        emission(svg, wanted(), "wanted");
        products(svg);
        svg.line({left, y(noise_db_)}, {right, y(noise_db_)}, "noise");
        svg.text({right, y(noise_db_) - 4}, "noise", "small end");
        svg.text({left, height - 8},
                 elsewhere_.empty() ? "An estimate from declared gear and places."
                                    : fmt::format("On other bands: {}. An estimate from declared "
                                                  "gear and places.",
                                                  fmt::join(elsewhere_, ", ")),
                 "small");
        return svg.str();
    }

private:
    std::size_t wanted() const { return *scene_.receivers[v_].hears; }
    double tuned_mhz() const { return megahertz(scene_.transmitters[wanted()].frequency); }
    double x(double mhz) const {
        return left + (right - left) * (mhz - low_mhz_) / (high_mhz_ - low_mhz_);
    }
    /// Of a density in dBm in a megahertz.
    double y(double db) const {
        const double floor_db = noise_db_ - below_noise_db;
        const double share = (db - floor_db) / (peak_db_ + above_top_db - floor_db);
        return bottom - (bottom - top) * std::clamp(share, 0.0, 1.0);
    }
    const spectrum::Curve& curve(std::size_t t) const {
        return scene_.emissions[scene_.transmitters[t].emission].density.curve();
    }
    /// What arrives at the centre of an emission, as density.
    double peak_db(std::size_t t) const {
        const double gain = t == wanted() ? a_.links().wanted(v_)
                                          : a_.links().unwanted(spectrum::Geometry::ref, v_, t);
        return scene_.transmitters[t].power.count() + 10 * std::log10(gain) +
               curve(t).at(spectrum::Hertz(0)).count() - area_db(curve(t));
    }

    static std::string summary(const v1::ReceiverResult& r) {
        auto text = fmt::format("on {} MHz", day::mhz_text(r.channel_mhz()));
        if (r.channel() != day::mhz_text(r.channel_mhz())) text = r.channel() + " " + text;
        if (r.has_margin_ref_db())
            text += fmt::format(": margin {} dB, {} dB at worst, {}", db_text(r.margin_ref_db()),
                                db_text(r.margin_worst_db()), verdict_text(r.verdict(), {}));
        return text + (r.reason().empty() ? "" : "; " + r.reason());
    }

    void axes(Svg& svg) const {
        svg.rect({left, top}, right - left, bottom - top, "axis");
        const double step = high_mhz_ - low_mhz_ > 300 ? 50 : 20;
        for (double f = std::ceil(low_mhz_ / step) * step; f <= high_mhz_; f += step) {
            svg.line({x(f), top}, {x(f), bottom}, "grid");
            svg.text({x(f), bottom + 16}, fmt::format("{:.0f}", f), "middle");
        }
        svg.text({(left + right) / 2, bottom + 34}, "MHz", "middle");
        const double first = std::ceil((noise_db_ - below_noise_db) / 20) * 20;
        for (double db = first; db < peak_db_ + above_top_db; db += 20) {
            svg.line({left, y(db)}, {right, y(db)}, "grid");
            svg.text({left - 6, y(db) + 4}, fmt::format("{:.0f}", db), "end");
        }
        svg.text({left + 4, top + 14}, "dBm in 1 MHz, as it arrives", "small");
    }

    void emission(Svg& svg, std::size_t t, std::string_view look) const {
        const double centre = megahertz(scene_.transmitters[t].frequency), peak = peak_db(t);
        const auto knots = curve(t).knots();
        std::vector<Svg::Point> points = {{x(centre - megahertz(curve(t).last())), bottom}};
        for (std::size_t i = knots.size(); i-- > 0;)
            points.emplace_back(x(centre - megahertz(knots[i].offset)),
                                y(peak - knots[0].level.count() + knots[i].level.count()));
        for (const auto& knot : knots)
            points.emplace_back(x(centre + megahertz(knot.offset)),
                                y(peak - knots[0].level.count() + knot.level.count()));
        points.emplace_back(x(centre + megahertz(curve(t).last())), bottom);
        for (auto& [at, level] : points) at = std::clamp(at, left, right);
        const auto& of = a_.situation().transmitters[t];
        svg.open(fmt::format("{} on {}", of.name, day::channel_text(of.channel)));
        svg.path(points, true, look);
        svg.text({x(centre) + 3, y(peak) - 5}, fmt::format("{}, {}", of.name, of.channel.name()),
                 "small", -30);
        svg.close();
    }

    /// What the receiver lets through, hung from the top of what it is to hear.
    void filter(Svg& svg) const {
        const double centre = tuned_mhz(), peak = peak_db(wanted());
        const auto knots = profile_.selectivity.curve().knots();
        std::vector<Svg::Point> points = {{left, y(peak - knots.back().level.count())}};
        for (std::size_t i = knots.size(); i-- > 0;)
            points.emplace_back(x(centre - megahertz(knots[i].offset)),
                                y(peak - knots[i].level.count()));
        for (const auto& knot : knots)
            points.emplace_back(x(centre + megahertz(knot.offset)), y(peak - knot.level.count()));
        points.emplace_back(right, y(peak - knots.back().level.count()));
        for (auto& [at, level] : points) at = std::clamp(at, left, right);
        svg.open("the receiver's filter");
        svg.path(points, false, "filter");
        svg.close();
    }

    /// Each where it falls, as wide as it is, as high as it counts.
    void products(Svg& svg) const {
        std::size_t drawn = 0;
        for (const auto& term :
             a_.contributions(v_, spectrum::Geometry::ref, scene_.transmitters.size() * 20)) {
            if (!term.product || drawn == products_drawn) continue;
            const double sigma = sigma_mhz(term), centre = megahertz(*term.product);
            const double density = term.level.count() - 10 * std::log10(2.5 * sigma);
            if (density < noise_db_ - below_noise_db) continue;
            ++drawn;
            const auto message = day::message(a_.situation(), term);
            svg.open(fmt::format("{} = {} MHz, {:.0f} dBm", makers_text(message),
                                 day::mhz_text(message.product_mhz()), message.level_dbm()));
            svg.path({{x(centre - 2 * sigma), bottom},
                      {x(centre), y(density)},
                      {x(centre + 2 * sigma), bottom}},
                     true, "product");
            svg.close();
        }
    }

    double sigma_mhz(const spectrum::Contribution& term) const {
        const auto shape = [&](std::size_t i) {
            const auto& e = scene_.emissions[scene_.transmitters[term.from[i]].emission];
            return spectrum::ProductShape{e.sigma_mhz, e.constant_envelope};
        };
        return term.from.size() == 2
                   ? spectrum::two_signal_sigma_mhz(shape(0), shape(1))
                   : spectrum::three_signal_sigma_mhz(shape(0), shape(1), shape(2));
    }

    const day::Assessment& a_;
    const spectrum::Scene& scene_;
    std::size_t v_;
    const spectrum::ReceiverProfile& profile_;
    std::vector<std::size_t> drawn_;
    std::vector<std::string> elsewhere_;
    double noise_db_, low_mhz_, high_mhz_, peak_db_;
};

}  // namespace

Result<std::string> spectrum_picture(const v1::DaySheet& sheet, v1::Basis::Kind basis,
                                     const std::string& pilot, const std::string& receiver) {
    const day::Assessment assessment(sheet, basis);
    const auto& receivers = assessment.situation().receivers;
    bool is_known = false;
    for (std::size_t v = 0; v < receivers.size(); ++v) {
        if (receivers[v].owner != pilot) continue;
        is_known = true;
        if (!receiver.empty() && receivers[v].name != receiver) continue;
        if (!assessment.situation().scene.receivers[v].hears) continue;
        return Dial(assessment, v).picture();
    }
    if (!is_known)
        return Refusal{Refusal::Kind::not_found, "pilot",
                       fmt::format("no pilot with a receiver is called '{}'", pilot), ""};
    return Refusal{Refusal::Kind::conflict, pilot, "none of the receivers asked for hears anything",
                   "see fieldpeg check"};
}

}  // namespace fieldpeg::show
