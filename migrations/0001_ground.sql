-- The ground everything stands on: settings, boundaries, levels, seasons, offices.
-- Schema open is what the public may read; schema priv is the office's.

-- +goose Up
CREATE SCHEMA open;
CREATE SCHEMA priv;

-- The release rules in force. A set is never changed: a new one is added.
CREATE TABLE open.parameter_set (
    id          int  PRIMARY KEY,
    k           int  NOT NULL DEFAULT 3  CHECK (k >= 3),
    patience    int  NOT NULL DEFAULT 2  CHECK (patience BETWEEN 1 AND 10),
    dominance   int  NOT NULL DEFAULT 20 CHECK (dominance BETWEEN 0 AND 100),
    gap_days    int  NOT NULL DEFAULT 60 CHECK (gap_days >= 30),
    fall_floor  int  NOT NULL DEFAULT 5  CHECK (fall_floor >= 5),
    full_from   int  NOT NULL DEFAULT 0  CHECK (full_from >= 0)
);
COMMENT ON COLUMN open.parameter_set.full_from IS
    'tranches of fewer senders show none, unconfirmed and found only; 0: all show every level';

CREATE TABLE open.program (
    only_one    boolean PRIMARY KEY DEFAULT true CHECK (only_one),
    name        text NOT NULL,
    state       text NOT NULL,
    parameters  int  NOT NULL REFERENCES open.parameter_set,
    invented    boolean NOT NULL DEFAULT false
);
COMMENT ON COLUMN open.program.invented IS 'the demo: every page says that the state is invented';

CREATE TABLE open.boundary_set (
    id        int   PRIMARY KEY,
    digest    bytea NOT NULL UNIQUE,
    srid      int   NOT NULL,
    accepted  date  NOT NULL,
    outline   geometry
);
COMMENT ON COLUMN open.boundary_set.srid IS 'the metric coordinate system of the outlines';
COMMENT ON COLUMN open.boundary_set.outline IS 'all counties together, in whole meters';

-- A place keeps its id across boundary sets.
CREATE TABLE open.place (
    id      int  PRIMARY KEY,
    kind    text NOT NULL CHECK (kind IN ('county', 'township', 'district')),
    code    text NOT NULL CHECK (code <> ''),
    name    text NOT NULL CHECK (name <> ''),
    slug    text NOT NULL CHECK (slug ~ '^[a-z0-9]+(-[a-z0-9]+)*$'),
    county  int  REFERENCES open.place,
    CHECK ((kind = 'county') = (county IS NULL)),
    UNIQUE NULLS NOT DISTINCT (kind, county, code)
);
CREATE UNIQUE INDEX place_county_slug ON open.place (slug) WHERE kind = 'county';

CREATE TABLE open.place_shape (
    set      int  NOT NULL REFERENCES open.boundary_set,
    place    int  NOT NULL REFERENCES open.place,
    code     text NOT NULL,
    name     text NOT NULL,
    geom     geometry(MultiPolygon, 4326) NOT NULL,
    outline  geometry(MultiPolygon) NOT NULL,
    PRIMARY KEY (set, place)
);
COMMENT ON COLUMN open.place_shape.code IS 'as this set has it; the place''s own is that of the newest set';
COMMENT ON COLUMN open.place_shape.outline IS 'whole meters in the set''s metric coordinate system';

CREATE TABLE open.adjacency (
    set  int NOT NULL REFERENCES open.boundary_set,
    a    int NOT NULL REFERENCES open.place,
    b    int NOT NULL REFERENCES open.place,
    PRIMARY KEY (set, a, b),
    CHECK (a < b)
);

CREATE TABLE open.district (
    set       int NOT NULL REFERENCES open.boundary_set,
    township  int NOT NULL REFERENCES open.place,
    district  int NOT NULL REFERENCES open.place,
    PRIMARY KEY (set, township)
);

-- Reference layers that help a reader find the way: never anything sampled.
CREATE TABLE open.layer (
    id       int  GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    set      int  NOT NULL REFERENCES open.boundary_set,
    title    text NOT NULL,
    position int  NOT NULL DEFAULT 1,
    kind     text NOT NULL CHECK (kind IN ('river', 'road', 'ridge', 'town')),
    name     text NOT NULL,
    rank     int  NOT NULL DEFAULT 1,
    geom     geometry(Geometry, 4326) NOT NULL,
    outline  geometry NOT NULL
);
COMMENT ON COLUMN open.layer.title IS 'features of one title are one layer: put on, replaced and ordered together';
CREATE INDEX layer_set ON open.layer (set);

CREATE TABLE open.scheme (
    id       int  PRIMARY KEY,
    key      text NOT NULL,
    version  int  NOT NULL,
    title    text NOT NULL,
    source   text NOT NULL,
    trace    double precision NOT NULL CHECK (trace >= 0),
    UNIQUE (key, version)
);

CREATE TABLE open.scheme_class (
    scheme  int  NOT NULL REFERENCES open.scheme,
    rank    int  NOT NULL CHECK (rank >= 0),
    name    text NOT NULL,
    upper   double precision NOT NULL,
    kind    text NOT NULL CHECK (kind IN ('none', 'unconfirmed', 'found')),
    PRIMARY KEY (scheme, rank)
);
COMMENT ON COLUMN open.scheme_class.upper IS 'eggs per 100 cm3 of soil, inclusive; Infinity for the last';

CREATE TABLE open.method (
    id             int  PRIMARY KEY,
    name           text NOT NULL,
    version        int  NOT NULL,
    soil_cm3       double precision NOT NULL CHECK (soil_cm3 > 0),
    suspension_ml  double precision NOT NULL CHECK (suspension_ml > 0),
    aliquot_ml     double precision NOT NULL CHECK (aliquot_ml > 0),
    recovery       double precision NOT NULL DEFAULT 1 CHECK (recovery > 0 AND recovery <= 1),
    eggs_per_cyst  double precision NOT NULL DEFAULT 150 CHECK (eggs_per_cyst >= 1),
    UNIQUE (name, version)
);

-- A season is the fall's year; spring bags belong to the fall before.
CREATE TABLE open.season (
    year    int  PRIMARY KEY CHECK (year BETWEEN 1950 AND 2200),
    opens   date NOT NULL,
    closes  date NOT NULL,
    CHECK (opens < closes)
);

CREATE TABLE open.office (
    county    int  PRIMARY KEY REFERENCES open.place,
    address   text NOT NULL,
    hours     text NOT NULL,
    drop_off  text NOT NULL,
    last_day  date
);
