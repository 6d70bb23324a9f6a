#include "server/day/spectrum_picture.h"

#include "server/day/label_layout.h"
#include "server/day/paper.h"
#include "server/day/results.h"
#include "server/day/text_width.h"
#include "server/day/words.h"
#include "server/spectrum/intermodulation.h"
#include "server/spectrum/noise.h"
#include "server/spectrum/propagation.h"
#include "server/spectrum/rejection.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace fieldpeg::day {
namespace {

using Reply = v1::SpectrumPictureReply;

constexpr double in_mhz = 1;
constexpr double names_db = 20;   ///< over the highest peak, for names
constexpr double signal_db = 30;  ///< over the noise there is at least so much
constexpr double beside_mhz = 25;
constexpr int products_shown = 12;
constexpr double frame_share = 0.45;  ///< of the paper's width: the frame's height,
constexpr double frame_sizes = 20;    ///< and at least so many sizes of the type

void add(google::protobuf::RepeatedPtrField<Reply::Point>& points, double mhz, double dbm) {
    auto& p = *points.Add();
    p.set_mhz(milli(mhz));
    p.set_dbm(milli(dbm));
}

/// A curve about a centre, from left to right, `top_dbm` being its level at the centre: as it
/// falls, or by how much it attenuates.
void add(google::protobuf::RepeatedPtrField<Reply::Point>& points, const spectrum::Curve& curve,
         double centre_mhz, double top_dbm) {
    const auto knots = curve.knots();
    const double first = knots[0].level.count();
    const auto level = [&](const auto& knot) {
        return top_dbm - std::abs(knot.level.count() - first);
    };
    for (std::size_t i = knots.size(); i-- > 1;)
        add(points, centre_mhz - spectrum::mhz(knots[i].offset), level(knots[i]));
    for (const auto& knot : knots)
        add(points, centre_mhz + spectrum::mhz(knot.offset), level(knot));
}

/// What one receiver hears, as numbers.
class Dial {
public:
    Dial(const Assessment& a, std::size_t receiver) : a_(a), scene_(a.situation().scene) {
        const auto& profile = *a.reception(receiver)->profile;
        const auto wanted = *scene_.receivers[receiver].hears;
        reply_.set_basis(a.basis());
        *reply_.mutable_result() = receiver_result(a, receiver, scene_.transmitters.size() * 20);
        reply_.set_in_mhz(in_mhz);
        const auto noise = spectrum::noise_power(spectrum::from_mhz(in_mhz), profile.noise_figure);
        reply_.set_noise_dbm(milli(noise.count()));
        least_dbm_ = reply_.noise_dbm() - shown_below_noise_db;
        bottom_dbm_ = least_dbm_;
        top_dbm_ = reply_.noise_dbm() + signal_db;
        signals(receiver, wanted);
        products();
        reply_.mutable_result()->clear_contributions();
        reply_.set_bottom_dbm(milli(bottom_dbm_));
        reply_.set_top_dbm(milli(top_dbm_ + names_db));
        selectivity(profile.selectivity.curve(), wanted);
        if (a.sheet().has_sweep()) measured(a.sheet().sweep());
    }

    Reply reply() && { return std::move(reply_); }

private:
    /// The last sweep, in the picture's bandwidth, as far as it lies in the frame.
    void measured(const v1::Sweep& sweep) {
        const double wider_db = 10 * std::log10(in_mhz / sweep.resolution_mhz());
        for (int i = 0; i < sweep.level_dbm_size(); ++i) {
            const double mhz = sweep.start_mhz() + i * sweep.step_mhz();
            if (mhz < reply_.low_mhz() || mhz > reply_.high_mhz()) continue;
            add(*reply_.mutable_measured(), mhz,
                std::clamp(sweep.level_dbm(i) + wider_db, reply_.bottom_dbm(), reply_.top_dbm()));
        }
    }

    double frequency_mhz(std::size_t t) const {
        return spectrum::mhz(scene_.transmitters[t].frequency);
    }
    const spectrum::Emission& emission(std::size_t t) const {
        return scene_.emissions[scene_.transmitters[t].emission];
    }

    /// What arrives in the usual case: the geometry that pictures show is chosen here alone.
    double arriving_dbm(std::size_t receiver, std::size_t t) const {
        const auto gain =
            scene_.receivers[receiver].hears == t
                ? a_.links().wanted(receiver).exceeded(spectrum::good_share)
                : spectrum::decibel(a_.links().unwanted(spectrum::Geometry::usual, receiver, t));
        return (scene_.transmitters[t].power + gain).count();
    }

    void signals(std::size_t receiver, std::size_t wanted) {
        const auto band = spectrum::band_reference(scene_.transmitters[wanted].frequency);
        std::vector<std::size_t> order(scene_.transmitters.size());
        for (std::size_t t = 0; t < order.size(); ++t) order[t] = t;
        std::ranges::stable_sort(order, {}, [&](std::size_t t) { return frequency_mhz(t); });
        for (const auto t : order) {
            const double arriving = arriving_dbm(receiver, t);
            const double peak =
                arriving -
                10 * std::log10(spectrum::mhz(spectrum::power_bandwidth(emission(t).density)) /
                                in_mhz);
            if (t != wanted && peak < least_dbm_) continue;
            if (spectrum::band_reference(scene_.transmitters[t].frequency) == band)
                signal(t, t == wanted, arriving, peak);
            else
                elsewhere(t, arriving);
        }
        const auto& all = reply_.signals();
        reply_.set_low_mhz(milli(all.begin()->channel().mhz() - beside_mhz));
        reply_.set_high_mhz(milli(all.rbegin()->channel().mhz() + beside_mhz));
    }

    void signal(std::size_t t, bool wanted, double arriving, double peak) {
        const auto& of = a_.situation().transmitters[t];
        auto& s = *reply_.add_signals();
        s.set_transmitter(of.name);
        s.set_owner(of.owner);
        s.set_is_relay(of.source == Source::relay);
        *s.mutable_channel() = of.channel;
        s.set_wanted(wanted);
        s.set_sent_dbm(milli(scene_.transmitters[t].power.count()));
        s.set_arriving_dbm(milli(arriving));
        add(*s.mutable_density(), emission(t).density.curve(), frequency_mhz(t), peak);
        if (wanted) wanted_peak_dbm_ = peak;
        top_dbm_ = std::max(top_dbm_, peak);
        bottom_dbm_ = std::min(bottom_dbm_, peak - names_db);  // the wanted, however weak
    }

    void elsewhere(std::size_t t, double arriving) {
        const auto& of = a_.situation().transmitters[t];
        auto& e = *reply_.add_elsewhere();
        e.set_transmitter(of.name);
        *e.mutable_channel() = of.channel;
        e.set_arriving_dbm(milli(arriving));
    }

    /// Each as a Gaussian, which is what is counted of it [ours: docs/model.md, section 6].
    void products() {
        for (const auto& c : reply_.result().contributions()) {
            if (reply_.products_size() == products_shown) return;
            if (!c.has_product_mhz() || c.product_mhz() < reply_.low_mhz() ||
                c.product_mhz() > reply_.high_mhz())
                continue;
            const double sigma = sigma_mhz(c);
            const double peak =
                c.level_dbm() - 10 * std::log10(sigma * std::sqrt(2 * std::numbers::pi) / in_mhz);
            if (peak < least_dbm_) continue;
            top_dbm_ = std::max(top_dbm_, peak);
            auto& p = *reply_.add_products();
            *p.mutable_contribution() = c;
            constexpr int steps = 16;
            constexpr double sigmas = 4;
            for (int i = -steps; i <= steps; ++i) {
                const double x = sigmas * i / steps;
                add(*p.mutable_density(), c.product_mhz() + x * sigma,
                    peak - 10 * std::numbers::log10e * x * x / 2);
            }
        }
    }

    double sigma_mhz(const v1::Contribution& c) const {
        std::vector<spectrum::ProductShape> shapes;
        for (const auto& name : c.from()) {
            const auto& e = emission(*a_.situation().transmitter(name));
            shapes.push_back({e.sigma_mhz, e.constant_envelope});
        }
        return shapes.size() == 2
                   ? spectrum::two_signal_sigma_mhz(shapes[0], shapes[1])
                   : spectrum::three_signal_sigma_mhz(shapes[0], shapes[1], shapes[2]);
    }

    void selectivity(const spectrum::Curve& curve, std::size_t wanted) {
        auto& points = *reply_.mutable_selectivity();
        const double centre = frequency_mhz(wanted);
        const double ultimate = wanted_peak_dbm_ - curve.knots().back().level.count();
        const double reach = spectrum::mhz(curve.last());
        if (centre - reach > reply_.low_mhz()) add(points, reply_.low_mhz(), ultimate);
        add(points, curve, centre, wanted_peak_dbm_);
        if (centre + reach < reply_.high_mhz()) add(points, reply_.high_mhz(), ultimate);
    }

    const Assessment& a_;
    const spectrum::Scene& scene_;
    Reply reply_;
    double wanted_peak_dbm_ = 0, least_dbm_ = 0, bottom_dbm_ = 0, top_dbm_ = 0;
};

/// The first of these by which steps are wide enough.
double step_of(std::initializer_list<double> steps, double units_per_step_of_one, double least) {
    for (const double step : steps)
        if (step * units_per_step_of_one >= least) return step;
    return std::rbegin(steps)[0];
}

/// Lays it out on paper.
class DialOnPaper {
public:
    DialOnPaper(Reply& reply, const Paper& paper) : r_(reply), paper_(paper), type_(paper.type) {
        const double left = text_width("-000", type_.size) + type_.size;
        frame_ = {left, type_.line() / 2, paper.width - left - type_.size / 2,
                  std::max(frame_share * paper.width, frame_sizes * type_.size)};
    }

    void lay_out() {
        *r_.mutable_paper() = message(paper_);
        *r_.mutable_frame() = message(frame_);
        level_scale();
        frequency_scale();
        const auto axis = fmt::format("dBm in {} MHz, as it arrives{}", in_mhz,
                                      r_.measured().empty() ? "" : "; thin line: measured");
        const Spot corner{frame_.left + type_.size / 2, frame_.top + type_.size / 4};
        fixed(v1::Label::scale, axis, corner, v1::Label::start);
        noise();
        names();
    }

private:
    double x(double mhz) const {
        return frame_.left + frame_.width * (mhz - r_.low_mhz()) / (r_.high_mhz() - r_.low_mhz());
    }
    double y(double dbm) const {
        return frame_.bottom() -
               frame_.height * (dbm - r_.bottom_dbm()) / (r_.top_dbm() - r_.bottom_dbm());
    }

    Rect box(const std::string& text, Spot corner) const {
        return type_.box(corner, std::span(&text, 1));
    }

    /// A text in the frame that no name may cover.
    void fixed(v1::Label::Kind kind, const std::string& text, Spot corner, v1::Label::Align align) {
        const auto b = box(text, corner);
        *r_.add_labels() = label(kind, text, b, align);
        taken_.push_back(b);
    }

    void level_scale() {
        const double step = step_of(
            {10, 20, 50, 100}, frame_.height / (r_.top_dbm() - r_.bottom_dbm()), 2 * type_.line());
        for (double dbm = std::ceil(r_.bottom_dbm() / step) * step; dbm < r_.top_dbm();
             dbm += step) {
            r_.add_grid_dbm(dbm);
            const auto text = fmt::format("{:.0f}", dbm);
            auto b = box(text, {});
            b.left = frame_.left - type_.size / 2 - b.width;
            b.top = y(dbm) - b.height / 2;
            if (b.bottom() > frame_.bottom()) continue;  // there the other scale begins
            *r_.add_labels() = label(v1::Label::scale, text, b, v1::Label::end);
        }
    }

    void frequency_scale() {
        const double top = frame_.bottom() + type_.size / 4;
        auto unit = box("MHz", {0, top});
        unit.left = frame_.right() - unit.width;
        *r_.add_labels() = label(v1::Label::scale, "MHz", unit, v1::Label::end);
        const double step = step_of({5, 10, 20, 50, 100, 200, 500, 1000},
                                    frame_.width / (r_.high_mhz() - r_.low_mhz()),
                                    text_width("00000", type_.size) + type_.size);
        for (double mhz = std::ceil(r_.low_mhz() / step) * step; mhz <= r_.high_mhz();
             mhz += step) {
            r_.add_grid_mhz(mhz);
            const auto text = fmt::format("{:.0f}", mhz);
            auto b = box(text, {0, top});
            b.left = x(mhz) - b.width / 2;
            if (b.left < 0 || b.right() + type_.size / 2 > unit.left) continue;
            *r_.add_labels() = label(v1::Label::scale, text, b, v1::Label::middle);
        }
    }

    void noise() {
        auto b = box("noise", {});
        b.left = frame_.right() - b.width - type_.size / 4;
        b.top = y(r_.noise_dbm()) - b.height;
        fixed(v1::Label::noise, "noise", {b.left, b.top}, v1::Label::end);
    }

    /// Over each peak; a product, made of names, always in the key.
    void names() {
        std::vector<Mark> marks;
        const auto peak = [](const auto& one) {
            return *std::ranges::max_element(one.density(), {}, &Reply::Point::dbm);
        };
        const auto add_mark = [&](const Reply::Point& at, Mark::Name name, std::string text) {
            marks.push_back({{x(at.mhz()), y(at.dbm())}, type_.size / 4, name, {std::move(text)}});
        };
        for (const auto& s : r_.signals()) {
            auto at = peak(s);
            at.set_mhz(s.channel().mhz());
            add_mark(at, Mark::Name::above,
                     fmt::format("{}, {}", s.transmitter(), s.channel().name()));
        }
        for (const auto& p : r_.products()) {
            const auto& c = p.contribution();
            auto at = peak(p);
            at.set_mhz(c.product_mhz());
            add_mark(at, Mark::Name::in_key,
                     fmt::format("{} = {}\u00A0MHz, {:.0f}\u00A0dBm", makers_text(c),
                                 mhz_text(c.product_mhz()), c.level_dbm()));
        }
        const auto names = named(frame_, marks, taken_, type_);
        const double below = frame_.bottom() + 2 * type_.line();
        const auto in_key =
            key(names, marks, {type_.size / 2, below}, paper_.width - type_.size, type_);
        for (const auto& n : names) add_label(n, false);
        for (const auto& n : in_key) add_label(n, true);
        const double lowest = in_key.empty() ? frame_.bottom() + 1.5 * type_.line() : below;
        r_.set_height(centi(bottom_of(in_key, lowest)));
    }

    void add_label(const Naming& n, bool in_key) {
        const auto signals = static_cast<std::size_t>(r_.signals_size());
        auto& m = *r_.add_labels() = n.of.front() < signals
                                         ? message(n, v1::Label::signal)
                                         : message(n, v1::Label::product, signals);
        m.set_in_key(in_key);
    }

    Reply& r_;
    Paper paper_;
    Type type_;
    Rect frame_;
    std::vector<Rect> taken_;
};

}  // namespace

Result<v1::SpectrumPictureReply> spectrum_picture(const v1::DaySheet& sheet,
                                                  const v1::SpectrumPictureQuery& query) {
    const Assessment assessment(sheet, query.basis());
    const auto& receivers = assessment.situation().receivers;
    bool is_known = false;
    for (std::size_t v = 0; v < receivers.size(); ++v) {
        if (receivers[v].owner != query.pilot()) continue;
        is_known = true;
        if (!query.receiver().empty() && receivers[v].name != query.receiver()) continue;
        if (!assessment.situation().scene.receivers[v].hears) continue;
        auto reply = Dial(assessment, v).reply();
        DialOnPaper(reply, paper(query.paper())).lay_out();
        return reply;
    }
    if (!is_known)
        return Refusal{Refusal::Kind::not_found, "pilot",
                       fmt::format("no pilot with a receiver is called '{}'", query.pilot())};
    return Refusal{Refusal::Kind::conflict, query.pilot(),
                   "none of the receivers asked for hears anything", "see fieldpeg check"};
}

}  // namespace fieldpeg::day
