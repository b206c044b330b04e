-- The release rules as the database keeps them, against any statement of the
-- staff role. An edition's parts come first, in one transaction; its own row
-- comes last and closes it: everything is checked then, and nothing can be added
-- afterward. What each rule is for stands in package edition, which decides; the
-- rules here only refuse. Numbers of rules are the design's.
--
-- Not here: the stricter half of rule 4, which takes one farm's bags over many
-- falls together; the plain p-percent rule below is what it can never be under.
-- Nor that an edition leaves out no place that was due: a release in SQL can hold
-- a place back, as any clerk can by not counting, but cannot choose its results.

-- +goose Up
ALTER TABLE open.parameter_set ADD CHECK (dominance >= 1);

-- A sample whose soil came, with the sender it counts for and the result that
-- stands. Who claims a bag twice has one link, so one arrival.
CREATE VIEW priv.arrival AS
SELECT s.id AS sample, coalesce(x.merged_into, x.id) AS sender, s.standing, s.place, s.county, s.season,
       b.received, m.tranche, m.tranche / 1000000 AS edition,
       h.id AS result, h.kind, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
  FROM priv.sample s
  JOIN priv.bag_link l ON l.sample = s.id
  JOIN priv.bag b ON b.code = l.bag AND b.received IS NOT NULL AND b.state <> 'void'
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.head h ON h.sample = s.id
  LEFT JOIN priv.tranche_member m ON m.sample = s.id;

-- Rule 1: how many surely different farms stand behind each tranche.
CREATE VIEW priv.tranche_senders AS
WITH visit AS (
    SELECT m.tranche, s.season, coalesce(x.merged_into, x.id) AS sender,
           bool_and(s.standing = 2) FILTER (WHERE s.standing <> 0) AS fresh
      FROM priv.tranche_member m
      JOIN priv.sample s ON s.id = m.sample
      JOIN priv.sender x ON x.id = s.sender
     GROUP BY 1, 2, 3
), begun AS (
    SELECT *, min(season) OVER (PARTITION BY tranche, sender) AS first FROM visit
), fall AS (
    SELECT tranche, season, count(fresh) AS firm, count(*) FILTER (WHERE fresh AND first = season) AS newcomers
      FROM begun
     GROUP BY 1, 2
), line AS (
    SELECT tranche, firm + coalesce(sum(newcomers) OVER (
               PARTITION BY tranche ORDER BY season DESC ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING), 0) AS farms
      FROM fall
)
SELECT tranche, max(farms)::int AS senders FROM line GROUP BY 1;

-- Rule 8: to the nearest five, and one step up where a reader who knows that n
-- is at least so many could tell it from fewer than five numbers.
CREATE FUNCTION priv.about(n int, at_least int) RETURNS int LANGUAGE sql IMMUTABLE AS $$
    SELECT CASE WHEN (at_least + 2) / 5 * 5 - 2 < at_least AND n <= (at_least + 2) / 5 * 5 + 2
                THEN (at_least + 2) / 5 * 5 + 5 ELSE (n + 2) / 5 * 5 END
$$;

-- Each check lists what is wrong by the name of its rule.
-- +goose StatementBegin
CREATE FUNCTION priv.edition_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH before AS (
        SELECT max(no) AS no, max(released) AS released, max(season) AS season FROM open.edition WHERE no <> e.no
    ), p AS (
        SELECT s.*, g.parameters FROM open.program g, open.parameter_set s WHERE s.id = e.parameters
    )
    SELECT 'edition_kind' WHERE e.kind <> 'release' -- recalls and restatements bring rules of their own
    UNION ALL
    SELECT 'edition_number' FROM before WHERE e.no <> coalesce(no, 0) + 1
    UNION ALL
    SELECT 'edition_set' WHERE e.set <> (SELECT max(id) FROM open.boundary_set)
    UNION ALL
    SELECT 'edition_k' FROM p WHERE e.k <> k OR e.parameters <> parameters
    UNION ALL
    SELECT 'edition_gap' FROM before, p WHERE e.released < before.released + p.gap_days
    UNION ALL
    SELECT 'edition_season' FROM before
     WHERE e.season < before.season OR e.season IS DISTINCT FROM (SELECT max(year) FROM open.season WHERE opens <= e.cutoff)
$$;
-- +goose StatementEnd

-- Rules 3, 5 and 7, as far as they can be read off what is public.
-- +goose StatementBegin
CREATE FUNCTION priv.shape_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH ours AS (
        SELECT t.*, ARRAY(SELECT place FROM open.tranche_place tp WHERE tp.tranche = t.id ORDER BY place) AS places,
               CASE t.kind WHEN 'township' THEN 0 WHEN 'district' THEN 1 ELSE 2 END AS step
          FROM open.tranche t
         WHERE t.edition = e.no
    ), land AS (
        SELECT d.district, p.county, array_agg(d.township ORDER BY d.township) AS townships
          FROM open.district d
          JOIN open.place p ON p.id = d.township
         WHERE d.set = e.set
         GROUP BY 1, 2
    ), gone AS ( -- through which fall a reader knows each township to be empty
        SELECT tp.place, max(t.through) AS through, bool_or(t.kind = 'township') AS own
          FROM open.tranche t
          JOIN open.tranche_place tp ON tp.tranche = t.id
         WHERE t.kind IN ('township', 'district')
         GROUP BY 1
    ), counts AS (
        SELECT c.tranche, sum(c.n) AS samples, array_agg(c.rank ORDER BY c.rank) AS ranks, bool_and(c.edition = e.no) AS own
          FROM open.tranche_count c
          JOIN ours ON ours.id = c.tranche
         GROUP BY 1
    )
    SELECT 'tranche_order' -- a number that said more than edition and place would be a channel
      FROM (SELECT id, row_number() OVER (ORDER BY county, step, places) AS nth FROM ours) o
     WHERE id <> e.no * 1000000 + nth
    UNION ALL
    SELECT 'tranche_places' FROM ours
     WHERE NOT CASE kind
           WHEN 'township' THEN cardinality(places) = 1 AND EXISTS (
                SELECT FROM land WHERE land.county = ours.county AND ours.places[1] = ANY (townships))
           WHEN 'district' THEN EXISTS (SELECT FROM land WHERE land.county = ours.county AND townships = ours.places)
           ELSE places = ARRAY[county] AND EXISTS (SELECT FROM open.place p WHERE p.id = ours.county AND p.kind = 'county') END
    UNION ALL
    SELECT 'tranche_window' FROM ours, open.parameter_set p
     WHERE p.id = e.parameters AND (through <> e.season - step * p.patience OR this_fall AND step > 0)
    UNION ALL
    SELECT 'tranche_sums' FROM ours LEFT JOIN counts c ON c.tranche = ours.id
     WHERE c.samples IS DISTINCT FROM ours.samples OR NOT c.own OR c.ranks IS DISTINCT FROM ARRAY(
           SELECT generate_series(0, CASE WHEN ours.coarse THEN 3
                  ELSE (SELECT count(*)::int FROM open.scheme_class WHERE scheme = e.scheme) END - 1))
    UNION ALL
    SELECT 'tranche_open' FROM ours -- joined townships of which one could tell which
     WHERE kind = 'district' AND (
           SELECT count(*) FROM unnest(places) AS township LEFT JOIN gone ON gone.place = township
            WHERE gone.own IS NOT TRUE) < 3
    UNION ALL
    SELECT 'tranche_open' FROM ours
     WHERE kind = 'remainder' AND (
           SELECT count(*) < 5 OR count(DISTINCT district) < 2
             FROM land, unnest(townships) AS township LEFT JOIN gone ON gone.place = township
            WHERE land.county = ours.county AND (gone.through < ours.through) IS NOT FALSE)
$$;
-- +goose StatementEnd

-- Rules 1, 2, 4 and 5: what is in the tranches, and what was left behind.
-- +goose StatementBegin
CREATE FUNCTION priv.member_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH p AS (
        SELECT * FROM open.parameter_set WHERE id = e.parameters
    ), ours AS (
        SELECT * FROM open.tranche WHERE edition = e.no
    ), pool AS MATERIALIZED (
        SELECT sample, sender, place, county, season, result, tranche
          FROM priv.arrival
         WHERE received <= e.cutoff AND season <= e.season AND (tranche IS NULL OR edition = e.no)
    ), blocked AS (
        SELECT DISTINCT place FROM pool WHERE result IS NULL
    ), heap AS ( -- all of a tranche from one place and fall
        SELECT tranche, place, county, season, count(*) AS n, count(sender) AS known
          FROM pool WHERE tranche IS NOT NULL GROUP BY 1, 2, 3, 4
    ), held AS (
        SELECT tranche, sum(n) AS n, max(season) AS last, min(season) AS first, sum(known) AS known
          FROM heap GROUP BY 1
    ), scope AS ( -- the places a tranche may take from
        SELECT t.id AS tranche, t.kind, tp.place FROM ours t JOIN open.tranche_place tp ON tp.tranche = t.id
        UNION ALL
        SELECT t.id, t.kind, c.id FROM ours t JOIN open.place c ON c.county = t.county AND c.kind = 'township'
         WHERE t.kind = 'remainder'
    ), bags AS (
        SELECT tranche, row_number() OVER (PARTITION BY tranche ORDER BY count(*) DESC) AS nth, count(*) AS n
          FROM pool
         WHERE tranche IS NOT NULL AND sender IS NOT NULL
         GROUP BY tranche, sender
    ), large AS (
        SELECT tranche, max(n) AS one, sum(n) FILTER (WHERE nth > 2) AS rest FROM bags GROUP BY 1
    )
    SELECT 'tranche_members' FROM ours t LEFT JOIN held h ON h.tranche = t.id WHERE t.samples IS DISTINCT FROM h.n
    UNION ALL
    SELECT 'tranche_members' -- not received by the cut-off, of a later fall, void, or its bag taken away
     WHERE (SELECT sum(n) FROM held)
        <> (SELECT count(*) FROM priv.tranche_member WHERE tranche BETWEEN e.no * 1000000 AND e.no * 1000000 + 999999)
    UNION ALL
    SELECT 'tranche_places' FROM heap h
     WHERE NOT EXISTS (SELECT FROM scope s WHERE s.tranche = h.tranche AND s.place = h.place)
    UNION ALL
    SELECT 'tranche_window' FROM ours t JOIN held h ON h.tranche = t.id
     WHERE h.last > t.through OR t.this_fall <> (h.first = e.season)
    UNION ALL
    SELECT 'tranche_grouping' FROM ours t JOIN held h ON h.tranche = t.id WHERE t.kind <> 'remainder' AND h.known < h.n
    UNION ALL
    SELECT 'tranche_waits' -- an uncounted bag makes its whole place wait, and a county-only one the remainder
      FROM heap h JOIN ours t ON t.id = h.tranche JOIN blocked b ON b.place IN (h.place, t.county)
     WHERE b.place = h.place OR t.kind = 'remainder'
    UNION ALL
    SELECT 'tranche_whole' -- a result left behind of a fall that was taken: somebody chose
      FROM pool o
      JOIN scope s ON s.place = o.place
      JOIN held h ON h.tranche = s.tranche AND o.season <= h.last
     WHERE o.tranche IS NULL AND o.result IS NOT NULL AND (o.sender IS NOT NULL OR s.kind = 'remainder')
       AND o.place NOT IN (SELECT place FROM blocked)
    UNION ALL
    SELECT 'tranche_results' -- what was counted is pinned, and is the result that stands
     WHERE (SELECT count(*) FROM priv.member_result r WHERE r.edition = e.no)
        <> (SELECT count(*) FROM pool WHERE tranche IS NOT NULL)
        OR EXISTS (SELECT FROM pool o LEFT JOIN priv.member_result r ON r.sample = o.sample AND r.edition = e.no
                    WHERE o.tranche IS NOT NULL AND r.result IS DISTINCT FROM o.result)
    UNION ALL
    SELECT 'tranche_dominance' FROM p, large WHERE 100 * coalesce(rest, 0) < p.dominance * one
    UNION ALL
    SELECT CASE WHEN coalesce(s.senders, 0) < e.k THEN 'tranche_senders' ELSE 'tranche_coarse' END
      FROM p, ours t LEFT JOIN priv.tranche_senders s ON s.tranche = t.id
       AND s.tranche BETWEEN e.no * 1000000 AND e.no * 1000000 + 999999
     WHERE coalesce(s.senders, 0) < e.k OR t.coarse <> (s.senders < p.full_from)
$$;
-- +goose StatementEnd

-- Rule 8, all but the finds, which take the levels to know.
-- +goose StatementBegin
CREATE FUNCTION priv.fall_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH p AS (
        SELECT * FROM open.parameter_set WHERE id = e.parameters
    ), counted AS (
        SELECT a.county, count(*)::int AS n, count(DISTINCT a.sender) FILTER (WHERE a.standing <> 0) AS senders,
               count(DISTINCT a.sender) FILTER (WHERE a.standing <> 0 AND a.tranche IS NULL) AS waiting
          FROM priv.arrival a
         WHERE a.received <= e.cutoff AND a.season = e.season AND a.result IS NOT NULL
         GROUP BY 1
    ), shown AS (
        SELECT county, sum(samples)::int AS n FROM open.tranche WHERE this_fall AND through = e.season GROUP BY 1
    ), due AS (
        SELECT c.county, priv.about(c.n, greatest(coalesce(s.n, 0), p.fall_floor)) AS samples,
               c.waiting >= p.fall_floor AS tells
          FROM p, counted c LEFT JOIN shown s ON s.county = c.county
         WHERE c.senders >= p.fall_floor
    )
    SELECT 'fall_figure'
      FROM due FULL JOIN (SELECT * FROM open.fall_figure WHERE edition = e.no) f ON f.county = due.county
     WHERE f.season IS DISTINCT FROM e.season OR f.samples IS DISTINCT FROM due.samples
        OR (f.highest IS NOT NULL) IS DISTINCT FROM due.tells
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION priv.close_edition() RETURNS trigger LANGUAGE plpgsql
SET search_path = pg_catalog, pg_temp SET work_mem = '64MB' SET enable_nestloop = off AS $$
DECLARE
    v_rule text;
BEGIN
    -- min and not LIMIT 1: for one row the planner would choose plans that are
    -- quick to find something, and there is nothing to find. No nested loops: the
    -- planner knows nothing of rows stored a moment ago, and takes them for few.
    SELECT min(f) INTO v_rule FROM priv.edition_faults(NEW) f;
    IF v_rule IS NULL THEN
        SELECT min(f) INTO v_rule FROM priv.shape_faults(NEW) f;
    END IF;
    IF v_rule IS NULL THEN
        SELECT min(f) INTO v_rule FROM priv.member_faults(NEW) f;
    END IF;
    IF v_rule IS NULL THEN
        SELECT min(f) INTO v_rule FROM priv.fall_faults(NEW) f;
    END IF;
    IF v_rule IS NOT NULL THEN
        RAISE EXCEPTION 'edition % breaks the rule %', NEW.no, v_rule
            USING ERRCODE = 'check_violation', CONSTRAINT = v_rule;
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE TRIGGER edition_closed AFTER INSERT ON open.edition
    FOR EACH ROW EXECUTE FUNCTION priv.close_edition();

-- Nothing is added to an edition that is there. One writer at a time: a part that
-- another transaction stores meanwhile would slip past the check at the end.
-- +goose StatementBegin
CREATE FUNCTION priv.refuse_late_part() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtext('sixmile release'));
    IF TG_ARGV[0] = 'edition' THEN
        PERFORM FROM added a JOIN open.edition e ON e.no = a.edition;
    ELSE
        PERFORM FROM (SELECT DISTINCT tranche FROM added) a
           JOIN open.tranche t ON t.id = a.tranche JOIN open.edition e ON e.no = t.edition;
    END IF;
    IF FOUND THEN
        RAISE EXCEPTION 'an edition is closed once it is there'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'edition_closed';
    END IF;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE TRIGGER tranche_late AFTER INSERT ON open.tranche
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('edition');
CREATE TRIGGER tranche_place_late AFTER INSERT ON open.tranche_place
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('tranche');
CREATE TRIGGER tranche_count_late AFTER INSERT ON open.tranche_count
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('edition');
CREATE TRIGGER fall_figure_late AFTER INSERT ON open.fall_figure
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('edition');
CREATE TRIGGER tranche_member_late AFTER INSERT ON priv.tranche_member
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('tranche');
CREATE TRIGGER member_result_late AFTER INSERT ON priv.member_result
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('edition');
