/// What years of days are asked.

#include "server/log/archive.h"

namespace fieldpeg::log {
namespace {

/// Somebody whose name was taken out is a number, of their day.
#define WHO(id) \
    "coalesce(n.name, CASE " id " WHEN 0 THEN 'a sighting' ELSE 'person ' || " id " END)"

Values near(double mhz, double within_mhz, const Archive::Span& when) {
    return Values()
        .add(std::optional(mhz - within_mhz))
        .add(std::optional(mhz + within_mhz))
        .add(when.from_ms)
        .add(when.to_ms);
}

}  // namespace

Result<std::vector<Archive::NearBy>> Archive::who_was_near(double mhz, double within_mhz,
                                                           const Span& when) {
    return each_of<NearBy>(
        ask("SELECT " WHO("e.subject") ", sum(e.times)::bigint, max(e.last_ms) FROM (SELECT day, "
                                       "subject, count(*) AS times, max(from_ms) AS last_ms FROM "
                                       "air WHERE frequency_mhz "
                                       "BETWEEN $1 AND $2 AND from_ms BETWEEN $3::bigint AND "
                                       "$4::bigint GROUP BY 1, 2) AS e "
                                       "LEFT JOIN name n ON n.day = e.day AND n.id = e.subject "
                                       "GROUP BY 1 ORDER BY 2 DESC, 3 "
                                       "DESC",
            near(mhz, within_mhz, when)),
        [](const Rows& rows, int i) {
            return NearBy{rows.bytes(i, 0), rows.number(i, 1), rows.number(i, 2)};
        });
}

Result<std::vector<Archive::Near>> Archive::last_near(double mhz, double within_mhz,
                                                      const Span& when, std::int64_t at_most) {
    return each_of<Near>(
        ask("SELECT e.from_ms, e.to_ms, " WHO(
                "e.subject") ", e.kind, e.frequency_mhz, e.power_dbm, "
                             "encode(d.id, 'hex'), d.title FROM (SELECT * FROM air "
                             "WHERE frequency_mhz BETWEEN $1 "
                             "AND $2 AND from_ms BETWEEN $3::bigint AND $4::bigint "
                             "ORDER BY from_ms DESC LIMIT "
                             "$5::bigint) AS e JOIN day d ON d.no = e.day LEFT "
                             "JOIN name n ON n.day = e.day AND n.id "
                             "= e.subject ORDER BY e.from_ms DESC",
            near(mhz, within_mhz, when).add(at_most)),
        [](const Rows& rows, int i) {
            return Near{rows.number(i, 0), rows.number(i, 1), rows.bytes(i, 2), rows.bytes(i, 3),
                        rows.real(i, 4),   rows.real(i, 5),   rows.bytes(i, 6), rows.bytes(i, 7)};
        });
}

Result<std::vector<Archive::FlownBy>> Archive::flown_by(const std::string& who, const Span& when) {
    return each_of<FlownBy>(
        ask("SELECT " WHO("f.subject") ", count(DISTINCT f.day), count(*), max(f.from_ms), "
                                       "sum(f.minutes) FROM flight f LEFT JOIN name n ON n.day = "
                                       "f.day AND n.id = f.subject "
                                       "WHERE f.from_ms BETWEEN $1::bigint AND $2::bigint AND ($3 "
                                       "= '' OR lower(n.name) = "
                                       "lower($3)) GROUP BY 1 ORDER BY 5 DESC",
            Values().add(when.from_ms).add(when.to_ms).add(who)),
        [](const Rows& rows, int i) {
            return FlownBy{rows.bytes(i, 0), rows.number(i, 1), rows.number(i, 2),
                           rows.number(i, 3), rows.real(i, 4)};
        });
}

Result<std::vector<Archive::Flown>> Archive::flights_of(const std::string& who, const Span& when) {
    return each_of<Flown>(
        ask("SELECT n.name, f.channel, f.power_dbm, f.minutes, f.from_ms, encode(d.id, 'hex'), "
            "d.title FROM name n JOIN flight f ON f.day = "
            "n.day AND f.subject = n.id JOIN day d ON d.no = f.day WHERE lower(n.name) = lower($3) "
            "AND f.from_ms BETWEEN $1::bigint AND $2::bigint ORDER BY f.from_ms DESC",
            Values().add(when.from_ms).add(when.to_ms).add(who)),
        [](const Rows& rows, int i) {
            return Flown{rows.bytes(i, 0),  rows.bytes(i, 1), rows.real(i, 2), rows.real(i, 3),
                         rows.number(i, 4), rows.bytes(i, 5), rows.bytes(i, 6)};
        });
}

Result<std::vector<Archive::Use>> Archive::channels(const Span& when) {
    return each_of<Use>(
        ask("SELECT f.channel, count(*), count(DISTINCT " WHO(
                "f.subject") "), sum(f.minutes) FROM "
                             "flight f LEFT JOIN name n ON n.day = f.day AND n.id = f.subject "
                             "WHERE f.from_ms "
                             "BETWEEN $1::bigint AND $2::bigint GROUP BY 1 ORDER BY 4 DESC",
            Values().add(when.from_ms).add(when.to_ms)),
        [](const Rows& rows, int i) {
            return Use{rows.bytes(i, 0), rows.number(i, 1), rows.number(i, 2), rows.real(i, 3)};
        });
}

}  // namespace fieldpeg::log
