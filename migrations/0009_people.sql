-- How a member of staff gets in, and the trail of what each has done.

-- +goose Up

-- The second step of a sign-in. The seed has to be known to check a code, so it
-- cannot be a hash; the step is that of the last code taken, so that none is
-- taken twice (RFC 6238 section 5.2). It is the staff's, never a sender's.
ALTER TABLE priv.staff
    ADD COLUMN seed   bytea CHECK (length(seed) = 20),
    ADD COLUMN step   bigint NOT NULL DEFAULT 0;
COMMENT ON COLUMN priv.staff.hash IS 'empty: invited, no password yet';
COMMENT ON COLUMN priv.staff.seed IS 'of the second step; null: none set up';

-- Codes that stand in for the second step, one use each: a used one is deleted.
CREATE TABLE priv.recovery (
    hash   bytea PRIMARY KEY CHECK (length(hash) = 32),
    staff  uuid NOT NULL REFERENCES priv.staff
);
CREATE INDEX recovery_staff ON priv.recovery (staff);

-- A way to set a password, once. A person has one at a time: a new one takes
-- the place of the old.
CREATE TABLE priv.link (
    staff    uuid PRIMARY KEY REFERENCES priv.staff,
    hash     bytea NOT NULL UNIQUE CHECK (length(hash) = 32),
    expires  date NOT NULL
);

ALTER TABLE priv.session
    ADD COLUMN id    uuid NOT NULL UNIQUE DEFAULT gen_random_uuid(),
    ADD COLUMN half  boolean NOT NULL DEFAULT false,
    ADD COLUMN tries int NOT NULL DEFAULT 0;
COMMENT ON COLUMN priv.session.id IS 'names it in lists, where its token must not stand';
COMMENT ON COLUMN priv.session.half IS 'the password was right, the second step is still to come: opens nothing';
CREATE INDEX session_staff ON priv.session (staff);

-- The office's own rules for getting in.
CREATE TABLE priv.house (
    only_one  boolean PRIMARY KEY DEFAULT true CHECK (only_one),
    second    boolean NOT NULL DEFAULT false
);
COMMENT ON COLUMN priv.house.second IS 'everybody has to set up a second step';
INSERT INTO priv.house DEFAULT VALUES;

-- A lot's form sent twice issues one lot.
ALTER TABLE priv.lot ADD COLUMN form bytea UNIQUE CHECK (length(form) = 32);

-- Who acts, as the pool of connections says before it lends one out; null for
-- the command line.
-- +goose StatementBegin
CREATE FUNCTION priv.actor() RETURNS uuid LANGUAGE sql STABLE AS $$
    SELECT nullif(current_setting('sixmile.actor', true), '')::uuid
$$;
-- +goose StatementEnd

-- The one way into the trail. It keeps the few keys that a line may have, so
-- that none can carry a bag or a sample.
-- +goose StatementBegin
CREATE FUNCTION priv.note(p_deed text, p_day date, p_detail jsonb, p_staff uuid) RETURNS void
LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO priv.trail (day, staff, action, detail)
    SELECT p_day, coalesce(p_staff, priv.actor()), p_deed,
           coalesce(jsonb_object_agg(key, value), '{}')
      FROM jsonb_each(p_detail)
     WHERE key IN ('county', 'season', 'n', 'edition', 'person', 'role') AND value <> 'null'
$$;
-- +goose StatementEnd
ALTER TABLE priv.trail ADD CHECK (detail - ARRAY['county', 'season', 'n', 'edition', 'person', 'role'] = '{}');
CREATE INDEX trail_day ON priv.trail (day);
CREATE TRIGGER trail_immutable BEFORE UPDATE OR DELETE ON priv.trail
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();

-- Changes note themselves, whichever store makes them: what a trigger writes
-- cannot be forgotten and stands or falls with the change. What a command does
-- to every bag of a season (the demo, an import) is not noted bag by bag, nor
-- what a file of counts does (sixmile.bulk): it is one line of its own.
-- Arguments: the deed, the column of the day ('' for today), and columns to
-- keep, each with the name it has in the trail.
-- +goose StatementBegin
CREATE FUNCTION priv.note_change() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v_row     jsonb := to_jsonb(NEW);
    v_staff   uuid  := coalesce(priv.actor(), (v_row->>'by_staff')::uuid);
    v_detail  jsonb := '{}';
BEGIN
    IF TG_ARGV[0] IN ('soil-in', 'count', 'recount')
       AND (v_staff IS NULL OR current_setting('sixmile.bulk', true) = 'on') THEN
        RETURN NULL;
    END IF;
    FOR i IN 2 .. TG_NARGS - 2 BY 2 LOOP
        v_detail := v_detail || jsonb_build_object(TG_ARGV[i + 1], v_row->TG_ARGV[i]);
    END LOOP;
    PERFORM priv.note(TG_ARGV[0], coalesce((v_row->>nullif(TG_ARGV[1], ''))::date, current_date), v_detail, v_staff);
    RETURN NULL;
END $$;
-- +goose StatementEnd

-- A boundary set carries shapes, which have no business in a row of the trail
-- even on the way.
-- +goose StatementBegin
CREATE FUNCTION priv.note_boundaries() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM priv.note('boundaries', NEW.accepted, jsonb_build_object('n', NEW.id), NULL);
    RETURN NULL;
END $$;
-- +goose StatementEnd

CREATE TRIGGER note_lot AFTER INSERT ON priv.lot
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('lot', 'issued', 'county', 'county', 'season', 'season');
CREATE TRIGGER note_soil AFTER UPDATE OF received ON priv.bag
    FOR EACH ROW WHEN (OLD.received IS NULL AND NEW.received IS NOT NULL AND NEW.state <> 'counted')
    EXECUTE FUNCTION priv.note_change('soil-in', 'received');
CREATE TRIGGER note_count AFTER INSERT ON priv.result
    FOR EACH ROW WHEN (NEW.supersedes IS NULL) EXECUTE FUNCTION priv.note_change('count', 'day');
CREATE TRIGGER note_recount AFTER INSERT ON priv.result
    FOR EACH ROW WHEN (NEW.supersedes IS NOT NULL) EXECUTE FUNCTION priv.note_change('recount', 'day');
CREATE TRIGGER note_settle AFTER UPDATE OF settled ON priv.queue_item
    FOR EACH ROW WHEN (OLD.settled IS NULL AND NEW.settled IS NOT NULL) EXECUTE FUNCTION priv.note_change('settle', 'settled');
CREATE TRIGGER note_withdraw AFTER INSERT ON open.withdrawal
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('withdraw', 'day', 'edition', 'edition');
CREATE TRIGGER note_program AFTER INSERT OR UPDATE ON open.program
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('program', '');
CREATE TRIGGER note_season AFTER INSERT OR UPDATE ON open.season
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('season', '', 'year', 'season');
CREATE TRIGGER note_office AFTER INSERT OR UPDATE ON open.office
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('office', '', 'county', 'county');
CREATE TRIGGER note_boundaries AFTER INSERT ON open.boundary_set
    FOR EACH ROW EXECUTE FUNCTION priv.note_boundaries();
CREATE TRIGGER note_scheme AFTER INSERT ON open.scheme
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('scheme', '', 'version', 'n');
CREATE TRIGGER note_method AFTER INSERT ON open.method
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('method', '', 'version', 'n');
CREATE TRIGGER note_rules AFTER INSERT ON open.parameter_set
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('rules', '', 'id', 'n');
