#include "server/log/postgres_schema.h"

#include <fmt/format.h>

namespace fieldpeg::log {
namespace {

constexpr std::int64_t tables_version = 1;

// docs/formats.md, section 12. A day's own number instead of its id keeps tables and indexes small.
constexpr const char* tables = R"sql(
BEGIN;
SELECT pg_advisory_xact_lock(x'46706567'::int, 0);
CREATE SCHEMA fieldpeg;
SET LOCAL search_path TO fieldpeg;
CREATE TABLE format (version bigint NOT NULL);
INSERT INTO format VALUES (1);

CREATE TABLE day (
    no         integer GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    id         bytea UNIQUE,                  -- the hash of its entry 1; null: not begun
    held_as    text UNIQUE,                   -- the name by which servers hold it; null: archived
    term       bigint NOT NULL DEFAULT 0,     -- the fence: one more with each take-over
    holder     text NOT NULL DEFAULT '',      -- where clients find whoever has it
    backend    integer NOT NULL DEFAULT 0,    -- the holder's process in the database
    silence_ms integer NOT NULL DEFAULT 3000, -- after so long without a sign it may be taken over
    version    bigint NOT NULL DEFAULT 0,     -- of the last entry
    head       bytea NOT NULL DEFAULT decode(repeat('00', 32), 'hex'),
    writes     bigint NOT NULL DEFAULT 0,     -- appends, those without an event among them
    title      text NOT NULL DEFAULT '',      -- what people call the day; of an archived one
    field      text NOT NULL DEFAULT '',      -- and where it was
    begun_ms   bigint                         -- of entry 1
) WITH (fillfactor = 50);
CREATE TABLE beat (
    day integer PRIMARY KEY REFERENCES day, term bigint NOT NULL, n bigint NOT NULL
) WITH (fillfactor = 20);
CREATE TABLE standby (
    day integer REFERENCES day, address text, seen timestamptz NOT NULL, PRIMARY KEY (day, address)
);
CREATE TABLE event (
    day           integer NOT NULL REFERENCES day,
    version       bigint NOT NULL,
    term          bigint NOT NULL,            -- under which it was written; no part of the chain
    at_ms         bigint NOT NULL,
    actor         bigint NOT NULL,
    subject       bigint NOT NULL,
    kind          text NOT NULL,
    frequency_mhz double precision,
    power_dbm     double precision,
    record        bytea NOT NULL,
    hash          bytea NOT NULL,
    PRIMARY KEY (day, version)
);
CREATE TABLE name (
    day integer REFERENCES day, id bigint, name text NOT NULL, PRIMARY KEY (day, id)
);
CREATE TABLE answer (
    day integer REFERENCES day, person bigint, once text, reply bytea NOT NULL,
    PRIMARY KEY (day, person, once)
);
CREATE TABLE key (
    day integer REFERENCES day, hash bytea, person bigint NOT NULL, PRIMARY KEY (day, hash)
);
CREATE TABLE ticket (
    day integer REFERENCES day, role integer, pilot bigint, hash bytea NOT NULL,
    PRIMARY KEY (day, role, pilot)
);

-- What only archived days have.
CREATE TABLE forgotten (day integer REFERENCES day, id bigint, PRIMARY KEY (day, id));
CREATE TABLE flight (
    day integer NOT NULL REFERENCES day, subject bigint NOT NULL, channel text NOT NULL,
    power_dbm double precision NOT NULL, from_ms bigint NOT NULL, minutes double precision NOT NULL
);
CREATE TABLE setting (names_for_years integer);
INSERT INTO setting VALUES (NULL);
CREATE TABLE air (
    day integer NOT NULL REFERENCES day, subject bigint NOT NULL, kind text NOT NULL,
    frequency_mhz double precision NOT NULL, power_dbm double precision NOT NULL,
    from_ms bigint NOT NULL, to_ms bigint NOT NULL
);
CREATE INDEX air_near ON air (frequency_mhz, from_ms) INCLUDE (day, subject, kind, power_dbm, to_ms);
CREATE INDEX air_of_day ON air (day);
CREATE INDEX flight_of_day ON flight (day);
CREATE INDEX flight_from ON flight (from_ms);
CREATE INDEX name_as_asked ON name (lower(name));
CREATE INDEX day_begun ON day (begun_ms);

-- The first statement of each append. It takes the day's row until the transaction ends, so that
-- appends and take-overs come one after the other; an error makes void all that comes after it.
CREATE FUNCTION fence(d integer, t bigint, w bigint, h bytea, v2 bigint, h2 bytea) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
    UPDATE fieldpeg.day SET version = v2, head = h2, writes = w + 1
    WHERE no = d AND term = t AND writes = w AND head = h;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the day is held by another server' USING ERRCODE = 'FP001';
    END IF;
END $$;
COMMIT;
)sql";

Result<std::int64_t> version_of(Database& database) {
    const auto there = database.ask("SELECT count(*) FROM pg_namespace WHERE nspname = 'fieldpeg'");
    if (!there) return database.refusal(there.error());
    if (there->number(0, 0) == 0) return 0;
    const auto version = database.ask("SELECT version FROM fieldpeg.format");
    if (!version) return database.refusal(version.error());
    return version->size() == 1 ? version->number(0, 0) : 0;
}

}  // namespace

Result<void> has_tables(Database& database) {
    const auto version = version_of(database);
    if (!version) return version.error();
    if (*version == tables_version) return {};
    if (*version == 0)
        return Refusal{Refusal::Kind::not_found, database.shown(), "has no days in it",
                       "is it another database of that name?"};
    return Refusal{
        Refusal::Kind::malformed, database.shown(),
        fmt::format("has tables of format {}, this program knows {}", *version, tables_version),
        *version > tables_version ? "use a later version of the program"
                                  : "use the version of the program that made them"};
}

Result<void> make_tables(Database& database) {
    const auto version = version_of(database);
    if (!version) return version.error();
    if (*version != 0) return has_tables(database);
    const auto made = database.run(tables);
    if (made) return {};
    database.run("ROLLBACK");
    const bool another_was_first = made.error().state == "42P06";  // the schema is there
    return another_was_first ? has_tables(database) : Result<void>(database.refusal(made.error()));
}

}  // namespace fieldpeg::log
