-- Which level table the first map is by. Until here it was the oldest, and a state
-- that stands by another could only restate, which two tables with cut points close
-- to each other do not allow.

-- +goose Up
ALTER TABLE open.program ADD COLUMN scheme int REFERENCES open.scheme;
COMMENT ON COLUMN open.program.scheme IS 'the level table while no edition stands, null: the oldest; afterward that of the newest is in force';

CREATE OR REPLACE FUNCTION open.scheme_in_force() RETURNS int LANGUAGE sql STABLE AS $$
    SELECT coalesce((SELECT e.scheme FROM open.edition e
                      WHERE NOT EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no) ORDER BY e.no DESC LIMIT 1),
                    (SELECT scheme FROM open.program),
                    (SELECT min(id) FROM open.scheme))
$$;

-- As in step 6 but for the table of the first edition.
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION priv.edition_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH before AS (
        SELECT max(no) AS no, max(released) AS day, max(released) FILTER (WHERE kind = 'release') AS released,
               max(season) AS season, max(cutoff) AS cutoff
          FROM open.edition WHERE no <> e.no
    ), p AS (
        SELECT s.*, g.parameters FROM open.program g, open.parameter_set s WHERE s.id = e.parameters
    ), scheme AS (
        SELECT coalesce((SELECT x.scheme FROM open.edition x WHERE x.no <> e.no
                            AND NOT EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = x.no) ORDER BY x.no DESC LIMIT 1),
                        (SELECT scheme FROM open.program), (SELECT min(id) FROM open.scheme)) AS id
    )
    SELECT 'edition_number' FROM before WHERE e.no <> coalesce(no, 0) + 1
    UNION ALL
    SELECT 'edition_set' WHERE e.set <> (SELECT max(id) FROM open.boundary_set)
    UNION ALL
    SELECT 'edition_k' FROM p WHERE e.k <> k OR e.parameters <> parameters
    UNION ALL
    SELECT 'edition_gap' FROM before, p WHERE e.kind = 'release' AND e.released < before.released + p.gap_days
    UNION ALL
    SELECT 'edition_gap' FROM before WHERE e.released < before.day
    UNION ALL
    SELECT 'edition_season' FROM before
     WHERE e.kind = 'release'
       AND (e.season < before.season OR e.season IS DISTINCT FROM (SELECT max(year) FROM open.season WHERE opens <= e.cutoff))
    UNION ALL
    SELECT 'edition_season' FROM before -- nothing new comes in
     WHERE e.kind <> 'release' AND (e.season, e.cutoff) IS DISTINCT FROM (before.season, before.cutoff)
    UNION ALL
    SELECT 'edition_scheme' FROM scheme WHERE (e.scheme = id) = (e.kind = 'restated')
$$;
-- +goose StatementEnd

-- Only before there is any map, withdrawn ones included: what was counted by one
-- table is counted by another only as a restatement, whose rules look at the cut
-- points of both.
-- +goose StatementBegin
CREATE FUNCTION priv.keep_first_levels() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtext('sixmile release')); -- not while the first edition is released
    IF EXISTS (SELECT FROM open.edition) THEN
        RAISE EXCEPTION 'the first level table stays once there is an edition' USING ERRCODE = 'check_violation', CONSTRAINT = 'program_scheme';
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd
CREATE TRIGGER program_scheme BEFORE UPDATE OF scheme ON open.program
    FOR EACH ROW WHEN (NEW.scheme IS DISTINCT FROM OLD.scheme) EXECUTE FUNCTION priv.keep_first_levels();
