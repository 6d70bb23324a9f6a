#include "server/service/pictures.h"

#include "server/book/names.h"
#include "server/day/field_picture.h"
#include "server/day/paper.h"
#include "server/day/reach_picture.h"
#include "server/day/spectrum_picture.h"
#include "server/day/words.h"
#include "server/service/input.h"

#include <fmt/format.h>

#include <algorithm>

namespace fieldpeg::service {
namespace {

v1::Answer refuse(const Refusal& refusal) {
    v1::Answer answer;
    *answer.mutable_refusal() = day::message(refusal);
    return answer;
}

}  // namespace

std::optional<Refusal> outside_paper(const v1::Paper& asked) {
    const auto paper = day::paper(asked);
    if (auto wrong =
            outside("paper.width", paper.width, day::Paper::width_min, day::Paper::width_max))
        return wrong;
    return outside("paper.text_size", paper.type.size, paper.width / day::Paper::sizes_max,
                   paper.width / day::Paper::sizes_min);
}

v1::Answer spectrum_picture(v1::SpectrumPictureQuery query, const v1::DaySheet& sheet) {
    if (const auto wrong = outside_paper(query.paper())) return refuse(*wrong);
    const auto* pilot = book::find_named(sheet.pilots(), query.pilot());
    if (!pilot)
        return refuse({Refusal::Kind::not_found, "pilot",
                       fmt::format("no pilot with a receiver is called '{}'",
                                   book::printable(query.pilot()))});
    query.set_pilot(pilot->name());
    query.set_basis(basis(query.basis()));
    auto reply = day::spectrum_picture(sheet, query);
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_spectrum_picture() = *std::move(reply);
    return answer;
}

v1::Answer reach_picture(v1::ReachPictureQuery query, const v1::DaySheet& sheet) {
    if (const auto wrong = outside_paper(query.paper())) return refuse(*wrong);
    const auto* pilot = book::find_named(sheet.pilots(), query.pilot());
    if (!pilot)
        return refuse({Refusal::Kind::not_found, "pilot",
                       fmt::format("nobody is called '{}'", book::printable(query.pilot()))});
    query.set_basis(basis(query.basis()));
    auto reply = day::reach_picture(sheet, *pilot, query);
    if (!reply) return refuse(reply.error());
    v1::Answer answer;
    *answer.mutable_reach_picture() = *std::move(reply);
    return answer;
}

v1::Answer field_picture(v1::FieldPictureQuery query, const v1::DaySheet& sheet) {
    if (const auto wrong = outside_paper(query.paper())) return refuse(*wrong);
    query.set_basis(basis(query.basis()));
    v1::Answer answer;
    *answer.mutable_field_picture() = day::field_picture(sheet, query);
    return answer;
}

}  // namespace fieldpeg::service
