#include "client/show/picture.h"
#include "client/show/json.h"
#include "client/show/png.h"
#include "client/show/strip.h"
#include "client/verbs/pages.h"
#include "client/verbs/verb.h"

#include <fmt/format.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <optional>
#include <utility>

namespace fieldpeg::verbs {
namespace {

constexpr const char* renderer = "rsvg-convert";

struct PictureOptions {
    Common common;
    std::string pilot, receiver, at, out, png;
    bool on_air = false, phone = false, text = false;
};

/// Runs the renderer with its ends; whether it could be run, and said that it was well.
int rendered(const std::string& svg, int into) {
    int ends[2];
    if (pipe(ends) != 0) return errno;
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, ends[0], STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&actions, into, STDOUT_FILENO);
    posix_spawn_file_actions_addclose(&actions, ends[1]);
    std::string name = renderer, zoom = "--zoom=2";
    char* arguments[] = {name.data(), zoom.data(), nullptr};
    pid_t child = 0;
    const int failed = posix_spawnp(&child, renderer, &actions, nullptr, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    close(ends[0]);
    std::size_t done = 0;
    while (failed == 0 && done < svg.size()) {
        const auto written = write(ends[1], svg.data() + done, svg.size() - done);
        if (written <= 0) break;
        done += static_cast<std::size_t>(written);
    }
    close(ends[1]);
    if (failed != 0) return failed;
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? 0 : EIO;
}

/// The picture as a program of its own draws it, which reads and writes in memory: no file is
/// touched before all of it is there. Empty: it did not, which has been said.
std::string png_of(const std::string& svg) {
    const int memory = memfd_create(renderer, MFD_CLOEXEC);
    const int failed = memory < 0 ? errno : rendered(svg, memory);
    std::string png;
    if (failed == 0) {
        png.resize(static_cast<std::size_t>(lseek(memory, 0, SEEK_END)));
        const auto got = pread(memory, png.data(), png.size(), 0);
        png.resize(static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
    }
    if (memory >= 0) close(memory);
    if (failed == EIO || (failed == 0 && png.empty()))
        say_bad_input("--png", fmt::format("{} did not draw it", renderer));
    else if (failed != 0)
        say_bad_input("--png", fmt::format("{} cannot be run: {}; on Debian it is in librsvg2-bin",
                                           renderer, std::strerror(failed)));
    return show::with_maker(std::move(png));
}

int give(const PictureOptions& options, const std::string& svg) {
    if (!options.png.empty()) {
        const auto png = png_of(svg);
        if (png.empty()) return failed;
        if (const int status = write_page(options.png, png, false); status != done) return status;
    }
    if (!options.out.empty()) return write_page(options.out, svg, false);
    if (options.png.empty() && !print(svg)) return failed;
    return done;
}

v1::Basis::Kind basis(const PictureOptions& options) {
    return options.on_air ? v1::Basis::on_air : v1::Basis::held;
}

v1::Paper paper(const PictureOptions& options) {
    return options.phone ? show::phone_paper() : v1::Paper();
}

/// Asks on a link, about a moment of the past if one is given. A refusal has been said.
std::optional<v1::Answer> asked(const PictureOptions& options, const Opened& opened,
                                v1::Query query, int& status) {
    status = opened.status;
    if (!opened.link) return std::nullopt;
    if (!options.at.empty()) {
        const auto moment = moment_argument("--at", options.at, *opened.link, status);
        if (!moment) return std::nullopt;
        *query.mutable_moment() = *moment;
    }
    auto answer = opened.link->ask(query);
    if (!answer.has_refusal()) return answer;
    status = say_refusal(answer.refusal());
    return std::nullopt;
}

/// The day as it is, or was.
Opened opened(const PictureOptions& options) {
    return options.at.empty() ? open(options.common) : open_course(options.common, Access::read);
}

template <class Reply>
int give(const PictureOptions& options, const Reply& reply, std::string (*drawn)(const Reply&)) {
    if (options.common.json) return print(show::json_text(reply)) ? done : failed;
    return give(options, drawn(reply));
}

int spectrum(const PictureOptions& options) {
    v1::Query query;
    auto& ask = *query.mutable_spectrum_picture();
    ask.set_pilot(options.pilot);
    ask.set_receiver(options.receiver);
    ask.set_basis(basis(options));
    *ask.mutable_paper() = paper(options);
    int status = done;
    const auto answer = asked(options, opened(options), query, status);
    if (!answer) return status;
    const auto& reply = answer->spectrum_picture();
    if (options.text)
        return print(show::spectrum_strip(reply, show::look_of_stdout())) ? done : failed;
    return give(options, reply, show::spectrum_picture);
}

int field(const PictureOptions& options) {
    v1::Query query;
    query.mutable_field_picture()->set_basis(basis(options));
    *query.mutable_field_picture()->mutable_paper() = paper(options);
    int status = done;
    const auto answer = asked(options, opened(options), query, status);
    return answer ? give(options, answer->field_picture(), show::field_picture) : status;
}

int reach(const PictureOptions& options) {
    v1::Query query;
    query.mutable_reach_picture()->set_pilot(options.pilot);
    query.mutable_reach_picture()->set_basis(basis(options));
    *query.mutable_reach_picture()->mutable_paper() = paper(options);
    int status = done;
    const auto answer = asked(options, opened(options), query, status);
    return answer ? give(options, answer->reach_picture(), show::reach_picture) : status;
}

int timeline(const PictureOptions& options) {
    v1::Query query;
    *query.mutable_timeline_picture()->mutable_paper() = paper(options);
    int status = done;
    const auto answer = asked(options, open_course(options.common, Access::read), query, status);
    return answer ? give(options, answer->timeline_picture(), show::timeline_picture) : status;
}

void add_out(Verb& verb, PictureOptions& options) {
    verb.value("--out", options.out, "into this file; default: standard output").type_name("FILE");
    verb.value("--png", options.png, "drawn by rsvg-convert, into this file").type_name("FILE");
    verb.flag("--phone", options.phone, "for a phone's screen instead of paper");
}

void add_at(Verb& verb, PictureOptions& options) {
    verb.value("--at", options.at, "as it was: 14:32, 2026-09-19 14:32, or #120 of the log")
        .type_name("TIME");
}

void add_moment(Verb& verb, PictureOptions& options) {
    add_day(verb, options.common);
    add_as(verb, options.common);
    add_at(verb, options);
    add_on_air(verb, options.on_air);
    add_out(verb, options);
    add_json(verb, options.common);
}

}  // namespace

void add_picture(Verb& program, Run& run) {
    const auto options = std::make_shared<PictureOptions>();
    auto picture = program.verb("picture", "The dial, the field, the reach, the day, as SVG");
    picture.needs_verb();
    auto dial = picture.verb("spectrum", "What one receiver hears: emissions, filter, products");
    dial.value("PILOT", options->pilot, "whose").required();
    dial.value("--receiver", options->receiver, "of several; default: the first").type_name("NAME");
    add_moment(dial, *options);
    dial.flag("--text", options->text, "as a strip of text");
    dial.footer("Example:\n  fieldpeg picture spectrum Ann --day saturday.toml --out ann.svg");
    dial.callback([options, &run] { run = [options] { return spectrum(*options); }; });
    auto map = picture.verb("field", "The field to scale, and how far relays swamp");
    add_moment(map, *options);
    map.footer("Example:\n  fieldpeg picture field --day saturday.toml --png field.png");
    map.callback([options, &run] { run = [options] { return field(*options); }; });
    auto far = picture.verb("reach", "How far a pilot's picture carries, from above and the side");
    far.value("PILOT", options->pilot, "whose").required();
    add_moment(far, *options);
    far.footer("Example:\n  fieldpeg picture reach Dee --day saturday.toml --png dee.png");
    far.callback([options, &run] { run = [options] { return reach(*options); }; });
    auto times = picture.verb("timeline", "Who was on which frequency over the day");
    add_course(times, options->common);
    add_at(times, *options);
    add_out(times, *options);
    times.footer("Example:\n  fieldpeg picture timeline --out saturday.svg");
    times.callback([options, &run] { run = [options] { return timeline(*options); }; });
}

}  // namespace fieldpeg::verbs
