-- Editions and tranches: all that the public ever sees of a result. The rules
-- that keep the promise stand here too, so that no statement can break them.

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
    FOREIGN KEY (edition, k) REFERENCES open.edition (no, k)
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

CREATE TABLE open.tranche_count (
    tranche  int NOT NULL REFERENCES open.tranche,
    edition  int NOT NULL REFERENCES open.edition,
    rank     int NOT NULL CHECK (rank >= 0),
    n        int NOT NULL CHECK (n >= 0),
    PRIMARY KEY (tranche, edition, rank)
);
COMMENT ON COLUMN open.tranche_count.edition IS 'the edition that counted it: the tranche''s own, or one that restates it';

CREATE TABLE open.fall_figure (
    edition  int NOT NULL REFERENCES open.edition,
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
    edition  int  NOT NULL REFERENCES open.edition,
    result   uuid NOT NULL,
    PRIMARY KEY (sample, edition),
    FOREIGN KEY (result, sample) REFERENCES priv.result (id, sample)
);

-- +goose StatementBegin
CREATE FUNCTION priv.check_edition() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    v_last date;
    v_p    open.parameter_set;
BEGIN
    SELECT * INTO v_p FROM open.parameter_set WHERE id = NEW.parameters;
    IF NEW.k <> v_p.k THEN
        RAISE EXCEPTION 'edition % does not use its parameter set''s k', NEW.no
            USING ERRCODE = 'check_violation', CONSTRAINT = 'edition_k';
    END IF;
    SELECT max(released) INTO v_last FROM open.edition WHERE kind = 'release' AND no <> NEW.no;
    IF NEW.kind = 'release' AND v_last IS NOT NULL AND NEW.released < v_last + v_p.gap_days THEN
        RAISE EXCEPTION 'editions stand at least % days apart', v_p.gap_days
            USING ERRCODE = 'check_violation', CONSTRAINT = 'edition_gap';
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd
CREATE TRIGGER edition_checked BEFORE INSERT ON open.edition
    FOR EACH ROW EXECUTE FUNCTION priv.check_edition();

-- At the end of the releasing transaction every tranche must hold what it says:
-- its counts and its members sum to its samples, and at least k senders are in it.
-- +goose StatementBegin
CREATE FUNCTION priv.check_tranche() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    v_counted  int;
    v_members  int;
    v_senders  int;
    v_strange  int;
BEGIN
    SELECT sum(n) INTO v_counted FROM open.tranche_count WHERE tranche = NEW.id AND edition = NEW.edition;
    SELECT count(*), count(DISTINCT coalesce(se.merged_into, se.id)),
           count(*) FILTER (WHERE NOT CASE NEW.kind
               WHEN 'remainder' THEN sa.county = NEW.county
               ELSE EXISTS (SELECT 1 FROM open.tranche_place tp WHERE tp.tranche = NEW.id AND tp.place = sa.place) END)
      INTO v_members, v_senders, v_strange
      FROM priv.tranche_member m
      JOIN priv.sample sa ON sa.id = m.sample
      LEFT JOIN priv.sender se ON se.id = sa.sender
     WHERE m.tranche = NEW.id;
    IF v_counted IS DISTINCT FROM NEW.samples OR v_members <> NEW.samples THEN
        RAISE EXCEPTION 'tranche % does not hold what it says', NEW.id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'tranche_sums';
    END IF;
    IF v_strange > 0 THEN
        RAISE EXCEPTION 'tranche % holds samples of another place', NEW.id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'tranche_places';
    END IF;
    IF v_senders < NEW.k THEN
        RAISE EXCEPTION 'tranche % has too few senders', NEW.id
            USING ERRCODE = 'check_violation', CONSTRAINT = 'tranche_senders';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE CONSTRAINT TRIGGER tranche_checked AFTER INSERT ON open.tranche
    DEFERRABLE INITIALLY DEFERRED FOR EACH ROW EXECUTE FUNCTION priv.check_tranche();

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
CREATE TRIGGER tranche_member_immutable BEFORE UPDATE OR DELETE ON priv.tranche_member
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER member_result_immutable BEFORE UPDATE OR DELETE ON priv.member_result
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();

-- A tranche's parts come with it, in the same transaction, or never: later rows
-- would slip past the check at its end. A statement at a time, for speed.
-- +goose StatementBegin
CREATE FUNCTION priv.check_tranche_part() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM (SELECT DISTINCT tranche FROM added) a JOIN open.tranche t ON t.id = a.tranche
      WHERE t.xmin <> pg_current_xact_id()::xid;
    IF FOUND THEN
        RAISE EXCEPTION 'a tranche is closed once its edition is released'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'tranche_closed';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE TRIGGER tranche_place_part AFTER INSERT ON open.tranche_place
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.check_tranche_part();
CREATE TRIGGER tranche_member_part AFTER INSERT ON priv.tranche_member
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.check_tranche_part();
