-- Finding a place by what people call it: its survey numbers, its name, its
-- code, a town in it. All of it is public: nothing here knows a sample. Needs
-- the extension pg_trgm, which the set-up makes.

-- +goose Up
-- The surveyed townships of a boundary set, as read from their codes or names.
CREATE TABLE open.place_survey (
    set       int NOT NULL REFERENCES open.boundary_set,
    place     int NOT NULL REFERENCES open.place,
    township  int  NOT NULL CHECK (township > 0),
    ns        text NOT NULL CHECK (ns IN ('', 'N', 'S')),
    range     int  NOT NULL CHECK (range > 0),
    ew        text NOT NULL CHECK (ew IN ('', 'E', 'W')),
    meridian  int  NOT NULL CHECK (meridian >= 0),
    PRIMARY KEY (set, place)
);
COMMENT ON COLUMN open.place_survey.township IS 'in quarters: 58 1/2 is 234';
CREATE INDEX place_survey_numbers ON open.place_survey (set, township, range);

-- What people may call a county or a township: its name, its code, and the
-- towns that lie in it. Folded: small letters without marks.
CREATE TABLE open.place_name (
    set     int  NOT NULL REFERENCES open.boundary_set,
    place   int  NOT NULL REFERENCES open.place,
    kind    text NOT NULL CHECK (kind IN ('name', 'code', 'town')),
    name    text NOT NULL,
    folded  text NOT NULL CHECK (folded <> ''),
    PRIMARY KEY (set, place, kind, folded)
);
CREATE INDEX place_name_folded ON open.place_name (set, folded);
-- Codes are looked up whole: thousands of them are nearly alike.
CREATE INDEX place_name_alike ON open.place_name USING gin (folded gin_trgm_ops)
    WITH (fastupdate = off) WHERE kind <> 'code';
