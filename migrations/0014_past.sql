-- The years before: results of falls before the program had bags, out of a file.
-- Of a row stay fall, place, figure and method. A past sample has no bag: it
-- arrived on the day of its file, and waits and is released like any other.

-- +goose Up
ALTER TABLE priv.sample DROP CONSTRAINT sample_source_check;
ALTER TABLE priv.sample ADD CONSTRAINT sample_source_check CHECK (source IN ('form', 'slip', 'assumed', 'past'));
COMMENT ON COLUMN priv.sample.source IS
    'the sender''s form; keyed from the paper slip in the bag; neither came: the county of its lot is assumed; or a row of a file of past results';
CREATE INDEX sample_past ON priv.sample (season) WHERE source = 'past';

ALTER TABLE priv.result
    ALTER COLUMN method DROP NOT NULL,
    ADD COLUMN scheme int REFERENCES open.scheme,
    ADD CHECK (method IS NOT NULL OR kind <> 'counted'),
    ADD CHECK ((scheme IS NOT NULL) = (kind = 'class'));
COMMENT ON COLUMN priv.result.method IS 'null: not known, of past results only';
COMMENT ON COLUMN priv.result.scheme IS
    'of a class: the level table it is of. Its density is a stand-in that this table sorts into the class, and nobody''s count';
CREATE OR REPLACE VIEW priv.head AS
SELECT r.*
  FROM priv.result r
 WHERE NOT EXISTS (SELECT 1 FROM priv.result n WHERE n.supersedes = r.id);
CREATE OR REPLACE VIEW priv.signed AS
SELECT h.*
  FROM priv.head h
 WHERE EXISTS (SELECT 1 FROM priv.signature g WHERE g.result = h.id);

-- Files of past results that were taken, by what is kept of them.
CREATE TABLE priv.past_load (
    digest    text PRIMARY KEY,
    day       date NOT NULL,
    results   int  NOT NULL CHECK (results > 0),
    by_staff  uuid REFERENCES priv.staff
);
CREATE TRIGGER past_load_immutable BEFORE UPDATE OR DELETE ON priv.past_load
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TABLE priv.past_memory (
    only_one  boolean PRIMARY KEY DEFAULT true CHECK (only_one),
    columns   jsonb NOT NULL DEFAULT '{}'
);
COMMENT ON COLUMN priv.past_memory.columns IS 'what the office said columns mean, by header';

-- The township of a point, else its county; null for neither, and for a point
-- that its coordinate system has no place for: what cannot be worked out must not
-- become an error, which would be written to the log with the point in it.
-- +goose StatementBegin
CREATE FUNCTION priv.place_at(p_set int, p_srid int, p_x double precision, p_y double precision) RETURNS int LANGUAGE plpgsql STABLE AS $$
DECLARE
    v_at     geometry;
    v_place  int;
BEGIN
    BEGIN
        v_at := ST_Transform(ST_SetSRID(ST_MakePoint(p_x, p_y), p_srid), 4326);
        SELECT s.place INTO v_place
          FROM open.place_shape s
          JOIN open.place p ON p.id = s.place AND p.kind IN ('county', 'township')
         WHERE s.set = p_set AND s.geom && v_at AND ST_Covers(s.geom, v_at)
         ORDER BY p.kind DESC, p.id
         LIMIT 1;
    EXCEPTION WHEN OTHERS THEN
        RETURN NULL;
    END;
    RETURN v_place;
END $$;
-- +goose StatementEnd

-- A level that an older table gave cannot be sorted by another: such results stay
-- out while another is in force.
CREATE OR REPLACE VIEW priv.arrival AS
SELECT s.id AS sample, coalesce(x.merged_into, x.id) AS sender, s.standing, s.place, s.county, s.season,
       b.received, m.tranche, m.tranche / 1000000 AS edition,
       h.id AS result, h.kind, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
  FROM priv.sample s
  JOIN priv.bag_link l ON l.sample = s.id
  JOIN priv.bag b ON b.code = l.bag AND b.received IS NOT NULL AND b.state <> 'void'
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.signed h ON h.sample = s.id
  LEFT JOIN priv.tranche_member m ON m.sample = s.id
UNION ALL
SELECT s.id, coalesce(x.merged_into, x.id), s.standing, s.place, s.county, s.season,
       s.day, m.tranche, m.tranche / 1000000,
       h.id, h.kind, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
  FROM priv.sample s
  JOIN priv.signed h ON h.sample = s.id AND (h.kind <> 'class' OR h.scheme = (SELECT open.scheme_in_force()))
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.tranche_member m ON m.sample = s.id
 WHERE s.source = 'past';

-- A farm whose past results wait may say in the form that its bags are its first
-- ever: its first here. So a form after a fall of which past results of farms wait
-- in the county counts as of a farm that sent before (package past).
-- +goose StatementBegin
CREATE FUNCTION priv.lower_standing() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock_shared(hashtext('sixmile history')); -- not while a file is loaded
    PERFORM FROM priv.sample p
      WHERE p.source = 'past' AND p.sender IS NOT NULL AND p.county = NEW.county AND p.season < NEW.season;
    IF FOUND THEN
        NEW.standing := 1;
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd
CREATE TRIGGER sample_standing BEFORE INSERT OR UPDATE OF standing, county, season ON priv.sample
    FOR EACH ROW WHEN (NEW.standing = 2 AND NEW.source <> 'past') EXECUTE FUNCTION priv.lower_standing();

-- The same for what was there before the file.
CREATE FUNCTION priv.lower_standings() RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    UPDATE priv.sample s
       SET standing = 1
      FROM (SELECT county, min(season) AS season FROM priv.sample WHERE source = 'past' AND sender IS NOT NULL GROUP BY 1) p
     WHERE s.standing = 2 AND s.source <> 'past' AND s.county = p.county AND s.season > p.season
       AND NOT EXISTS (SELECT FROM priv.tranche_member m WHERE m.sample = s.id)
$$;

-- The methods behind what an edition shows of a county; null: one not known. Two
-- of them in one comparison have to be said, and nobody can tell from it which
-- group has which.
CREATE TABLE open.edition_method (
    edition  int NOT NULL REFERENCES open.edition DEFERRABLE INITIALLY DEFERRED,
    county   int NOT NULL REFERENCES open.place,
    method   int REFERENCES open.method,
    UNIQUE NULLS NOT DISTINCT (edition, county, method)
);
INSERT INTO open.edition_method (edition, county, method)
SELECT DISTINCT v.edition, t.county, s.method
  FROM priv.member_result r
  JOIN priv.tranche_member m ON m.sample = r.sample
  JOIN open.tranche t ON t.id = m.tranche
  JOIN priv.result s ON s.id = r.result
 CROSS JOIN LATERAL (VALUES (t.edition), (r.edition)) v (edition);

-- +goose StatementBegin
CREATE FUNCTION priv.note_methods() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = pg_catalog, pg_temp SET enable_nestloop = off AS $$
BEGIN
    INSERT INTO open.edition_method (edition, county, method)
    SELECT DISTINCT v.edition, t.county, s.method
      FROM added a
      JOIN priv.tranche_member m ON m.sample = a.sample
      JOIN open.tranche t ON t.id = m.tranche
      JOIN priv.result s ON s.id = a.result
     CROSS JOIN LATERAL (VALUES (t.edition), (a.edition)) v (edition)
    ON CONFLICT DO NOTHING;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE TRIGGER member_result_methods AFTER INSERT ON priv.member_result
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.note_methods();
CREATE TRIGGER edition_method_immutable BEFORE UPDATE OR DELETE ON open.edition_method
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
