-- Editions and tranches: all that the public ever sees of a result. An edition's
-- parts are stored first and its own row last, which closes it; so what points
-- at an edition is checked at the end of the transaction. The rules of a release
-- are in 0006_ledger.sql.

-- +goose Up
CREATE TABLE open.edition (
    no          int   PRIMARY KEY CHECK (no > 0),
    kind        text  NOT NULL CHECK (kind IN ('release', 'erratum', 'restated')),
    set         int   NOT NULL REFERENCES open.boundary_set,
    scheme      int   NOT NULL REFERENCES open.scheme,
    parameters  int   NOT NULL REFERENCES open.parameter_set,
    k           int   NOT NULL CHECK (k >= 3),
    season      int   NOT NULL REFERENCES open.season,
    cutoff      date  NOT NULL,
    released    date  NOT NULL,
    digest      bytea NOT NULL CHECK (length(digest) = 32),
    code        text  NOT NULL UNIQUE,
    CHECK (cutoff <= released),
    UNIQUE (no, k)
);

CREATE TABLE open.withdrawal (
    edition  int  PRIMARY KEY REFERENCES open.edition,
    reason   text NOT NULL CHECK (reason IN ('counting', 'places', 'grouping', 'boundaries', 'other')),
    day      date NOT NULL
);

CREATE TABLE open.tranche (
    id         int  PRIMARY KEY,
    edition    int  NOT NULL,
    k          int  NOT NULL,
    county     int  NOT NULL REFERENCES open.place,
    kind       text NOT NULL CHECK (kind IN ('township', 'district', 'remainder')),
    samples    int  NOT NULL,
    this_fall  boolean NOT NULL,
    through    int  NOT NULL,
    coarse     boolean NOT NULL,
    CHECK (samples >= k),
    FOREIGN KEY (edition, k) REFERENCES open.edition (no, k) DEFERRABLE INITIALLY DEFERRED
);
COMMENT ON COLUMN open.tranche.k IS 'this many senders or more; the exact number is not kept';
COMMENT ON COLUMN open.tranche.coarse IS 'few senders: its counts are none, unconfirmed, found (rank 0, 1, 2)';
CREATE INDEX tranche_edition ON open.tranche (edition);

CREATE TABLE open.tranche_place (
    tranche  int NOT NULL REFERENCES open.tranche,
    place    int NOT NULL REFERENCES open.place,
    PRIMARY KEY (tranche, place)
);
CREATE INDEX tranche_place_place ON open.tranche_place (place);

-- A tranche is taken back whole, at once: every count of it by editions up to the
-- newest of that day. The rows stay, pages leave them out. A withdrawn edition's
-- tranches are recalled with it (0006_ledger.sql).
CREATE TABLE open.recall (
    tranche  int  NOT NULL REFERENCES open.tranche,
    upto     int  NOT NULL REFERENCES open.edition,
    reason   text NOT NULL CHECK (reason IN ('counting', 'places', 'grouping', 'boundaries', 'other')),
    day      date NOT NULL,
    PRIMARY KEY (tranche, upto)
);

-- A recalled tranche came out again, whole, within a later one of its place:
-- once, so the primary key is the rule.
CREATE TABLE open.tranche_join (
    tranche  int PRIMARY KEY REFERENCES open.tranche,
    whole    int NOT NULL REFERENCES open.tranche,
    CHECK (whole > tranche)
);
CREATE INDEX tranche_join_whole ON open.tranche_join (whole);

CREATE TABLE open.tranche_count (
    tranche  int NOT NULL REFERENCES open.tranche,
    edition  int NOT NULL REFERENCES open.edition DEFERRABLE INITIALLY DEFERRED,
    rank     int NOT NULL CHECK (rank >= 0),
    n        int NOT NULL CHECK (n >= 0),
    PRIMARY KEY (tranche, edition, rank)
);
COMMENT ON COLUMN open.tranche_count.edition IS 'the edition that counted it: the tranche''s own, or one that restates it';

CREATE TABLE open.fall_figure (
    edition  int NOT NULL REFERENCES open.edition DEFERRABLE INITIALLY DEFERRED,
    county   int NOT NULL REFERENCES open.place,
    season   int NOT NULL REFERENCES open.season,
    samples  int NOT NULL CHECK (samples % 5 = 0),
    finds    int NOT NULL CHECK (finds % 5 = 0 AND finds <= samples),
    highest  int,
    PRIMARY KEY (edition, county, season)
);
COMMENT ON TABLE open.fall_figure IS 'from everything counted, waiting included; rounded to the nearest five';

-- Once: the primary key is the rule.
CREATE TABLE priv.tranche_member (
    sample   uuid PRIMARY KEY REFERENCES priv.sample,
    tranche  int  NOT NULL REFERENCES open.tranche
);
CREATE INDEX tranche_member_tranche ON priv.tranche_member (tranche);

-- Pins what was counted, so that an edition can be drawn again for ever.
CREATE TABLE priv.member_result (
    sample   uuid NOT NULL REFERENCES priv.tranche_member,
    edition  int  NOT NULL REFERENCES open.edition DEFERRABLE INITIALLY DEFERRED,
    result   uuid NOT NULL,
    PRIMARY KEY (sample, edition),
    FOREIGN KEY (result, sample) REFERENCES priv.result (id, sample)
);

CREATE TRIGGER edition_immutable BEFORE UPDATE OR DELETE ON open.edition
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER tranche_immutable BEFORE UPDATE OR DELETE ON open.tranche
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER tranche_place_immutable BEFORE UPDATE OR DELETE ON open.tranche_place
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER tranche_count_immutable BEFORE UPDATE OR DELETE ON open.tranche_count
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER fall_figure_immutable BEFORE UPDATE OR DELETE ON open.fall_figure
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER withdrawal_immutable BEFORE UPDATE OR DELETE ON open.withdrawal
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER recall_immutable BEFORE UPDATE OR DELETE ON open.recall
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER tranche_join_immutable BEFORE UPDATE OR DELETE ON open.tranche_join
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER tranche_member_immutable BEFORE UPDATE OR DELETE ON priv.tranche_member
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER member_result_immutable BEFORE UPDATE OR DELETE ON priv.member_result
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
