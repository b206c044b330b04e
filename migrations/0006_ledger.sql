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
-- stands and is signed: a count that nobody signed holds its place back like one
-- that is not made yet. Who claims a bag twice has one link, so one arrival.
CREATE VIEW priv.arrival AS
SELECT s.id AS sample, coalesce(x.merged_into, x.id) AS sender, s.standing, s.place, s.county, s.season,
       b.received, m.tranche, m.tranche / 1000000 AS edition,
       h.id AS result, h.kind, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
  FROM priv.sample s
  JOIN priv.bag_link l ON l.sample = s.id
  JOIN priv.bag b ON b.code = l.bag AND b.received IS NOT NULL AND b.state <> 'void'
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.signed h ON h.sample = s.id
  LEFT JOIN priv.tranche_member m ON m.sample = s.id;

-- What became of each tranche: the edition that counted it last, whether nothing
-- of it stands, and the tranche that it came out again in. Tables of a withdrawn
-- restatement do not count.
CREATE VIEW open.tranche_state AS
SELECT t.id AS tranche, j.whole, c.edition AS counted_by, j.whole IS NULL AND coalesce(c.edition <= r.upto, false) AS recalled
  FROM open.tranche t
  JOIN (SELECT c.tranche, max(c.edition) AS edition
          FROM open.tranche_count c
         WHERE c.edition NOT IN (SELECT w.edition FROM open.withdrawal w JOIN open.edition e ON e.no = w.edition WHERE e.kind = 'restated')
         GROUP BY 1) c ON c.tranche = t.id
  LEFT JOIN open.tranche_join j ON j.tranche = t.id
  LEFT JOIN (SELECT tranche, max(upto) AS upto FROM open.recall GROUP BY 1) r ON r.tranche = t.id;

-- Every tranche with itself and all that came out again in it, however deep.
CREATE VIEW priv.tranche_part AS
WITH RECURSIVE part AS (
    SELECT id AS tranche, id AS part FROM open.tranche
    UNION ALL
    SELECT p.tranche, j.tranche FROM part p JOIN open.tranche_join j ON j.whole = p.part
)
SELECT tranche, part FROM part;

-- What was counted when each tranche was last published, for those of falls up
-- to the given one and later.
CREATE FUNCTION priv.last_pins(p_through int) RETURNS TABLE (tranche int, sample uuid, result uuid) LANGUAGE sql STABLE AS $$
    SELECT tranche, sample, result
      FROM (SELECT p.tranche, r.sample, r.result, r.edition, max(r.edition) OVER (PARTITION BY p.tranche) AS last
              FROM open.tranche t
              JOIN priv.tranche_part p ON p.tranche = t.id
              JOIN priv.tranche_member m ON m.tranche = p.part
              JOIN priv.member_result r ON r.sample = m.sample
             WHERE t.through >= p_through AND NOT EXISTS (SELECT FROM open.tranche_join j WHERE j.tranche = t.id)) x
     WHERE edition = last
$$;

-- The level table in force: that of the newest edition that stands.
CREATE FUNCTION open.scheme_in_force() RETURNS int LANGUAGE sql STABLE AS $$
    SELECT coalesce((SELECT e.scheme FROM open.edition e
                      WHERE NOT EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = e.no) ORDER BY e.no DESC LIMIT 1),
                    (SELECT min(id) FROM open.scheme))
$$;

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
        SELECT max(no) AS no, max(released) AS day, max(released) FILTER (WHERE kind = 'release') AS released,
               max(season) AS season, max(cutoff) AS cutoff
          FROM open.edition WHERE no <> e.no
    ), p AS (
        SELECT s.*, g.parameters FROM open.program g, open.parameter_set s WHERE s.id = e.parameters
    ), scheme AS (
        SELECT coalesce((SELECT x.scheme FROM open.edition x WHERE x.no <> e.no
                            AND NOT EXISTS (SELECT FROM open.withdrawal w WHERE w.edition = x.no) ORDER BY x.no DESC LIMIT 1),
                        (SELECT min(id) FROM open.scheme)) AS id
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
    SELECT 'tranche_again' WHERE e.kind = 'release' AND EXISTS (
           SELECT FROM open.tranche_count c JOIN open.tranche t ON t.id = c.tranche WHERE c.edition = e.no AND t.edition <> e.no)
    UNION ALL
    SELECT 'edition_kind' WHERE e.kind <> 'release'
       AND (EXISTS (SELECT FROM ours) OR EXISTS (SELECT FROM open.fall_figure f WHERE f.edition = e.no))
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
    ), back AS ( -- results of recalled tranches that come out again
        SELECT p.tranche, r.sample, r.result
          FROM ours JOIN priv.tranche_part p ON p.tranche = ours.id AND p.part <> ours.id
          JOIN priv.tranche_member m ON m.tranche = p.part
          JOIN priv.member_result r ON r.sample = m.sample AND r.edition = e.no
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
    SELECT 'tranche_members' FROM ours t LEFT JOIN held h ON h.tranche = t.id
     WHERE t.samples IS DISTINCT FROM h.n + (SELECT count(*) FROM back WHERE back.tranche = t.id)
    UNION ALL
    SELECT 'tranche_members' -- not received by the cut-off, of a later fall, void, or its bag taken away
     WHERE (SELECT sum(n) FROM held)
        <> (SELECT count(*) FROM priv.tranche_member WHERE tranche BETWEEN e.no * 1000000 AND e.no * 1000000 + 999999)
    UNION ALL
    SELECT 'tranche_places' FROM heap h
     WHERE NOT EXISTS (SELECT FROM scope s WHERE s.tranche = h.tranche AND s.place = h.place)
    UNION ALL
    SELECT 'tranche_window' FROM ours t JOIN held h ON h.tranche = t.id
     WHERE h.last > t.through OR t.this_fall <> (h.first = e.season AND NOT EXISTS (
           SELECT FROM open.tranche_join j JOIN open.tranche o ON o.id = j.tranche
            WHERE j.whole = t.id AND (NOT o.this_fall OR o.through <> t.through)))
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
        <> (SELECT count(*) FROM pool WHERE tranche IS NOT NULL) + (SELECT count(*) FROM back)
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
          FROM (SELECT county, sender, standing, tranche FROM priv.arrival
                 WHERE received <= e.cutoff AND season = e.season AND result IS NOT NULL AND tranche IS NULL
                UNION ALL -- what is out counts as it was published
                SELECT s.county, coalesce(x.merged_into, x.id), s.standing, l.tranche
                  FROM priv.last_pins(e.season) l JOIN priv.sample s ON s.id = l.sample AND s.season = e.season
                  LEFT JOIN priv.sender x ON x.id = s.sender) a
         GROUP BY 1
    ), shown AS (
        SELECT t.county, sum(c.n)::int AS n
          FROM open.tranche t
          JOIN open.tranche_state st ON st.tranche = t.id AND st.whole IS NULL
          JOIN open.tranche_count c ON c.tranche = t.id AND c.edition = st.counted_by
         WHERE t.this_fall AND t.through = e.season
         GROUP BY 1
    ), hidden AS (
        SELECT t.county FROM open.tranche_state st JOIN open.tranche t ON t.id = st.tranche WHERE st.recalled AND t.through >= e.season
    ), due AS (
        SELECT c.county, priv.about(c.n, greatest(coalesce(s.n, 0), p.fall_floor)) AS samples,
               c.waiting >= p.fall_floor AS tells
          FROM p, counted c LEFT JOIN shown s ON s.county = c.county
         WHERE c.senders >= p.fall_floor AND c.county NOT IN (SELECT county FROM hidden)
    )
    SELECT 'fall_figure'
      FROM due FULL JOIN (SELECT * FROM open.fall_figure WHERE edition = e.no) f ON f.county = due.county
     WHERE f.season IS DISTINCT FROM e.season OR f.samples IS DISTINCT FROM due.samples
        OR (f.highest IS NOT NULL) IS DISTINCT FROM due.tells
$$;
-- +goose StatementEnd

-- Rule 6: what came out again within this edition, or is counted again by an
-- erratum. Whether the tables differ enough takes the levels to know: package
-- edition decides, and the audit looks again. Rule 7: what is restated.
-- +goose StatementBegin
CREATE FUNCTION priv.again_faults(e open.edition) RETURNS SETOF text LANGUAGE sql STABLE AS $$
    WITH ours AS (
        SELECT j.tranche, j.whole FROM open.tranche_join j JOIN open.tranche t ON t.id = j.whole WHERE t.edition = e.no
        UNION ALL
        SELECT DISTINCT c.tranche, c.tranche FROM open.tranche_count c JOIN open.tranche t ON t.id = c.tranche
         WHERE c.edition = e.no AND t.edition <> e.no
    ), places AS (
        SELECT t.id, t.edition, t.county, t.kind, t.through, t.coarse, ARRAY(SELECT place FROM open.tranche_place p WHERE p.tranche = t.id ORDER BY 1) AS places
          FROM open.tranche t WHERE t.id IN (SELECT tranche FROM ours UNION SELECT whole FROM ours)
    ), old AS ( -- all that was published of them before
        SELECT o.tranche, o.whole, r.sample, r.result, r.edition, max(r.edition) OVER (PARTITION BY o.tranche) AS last
          FROM ours o
          JOIN priv.tranche_part p ON p.tranche = o.tranche
          JOIN priv.tranche_member m ON m.tranche = p.part
          JOIN priv.member_result r ON r.sample = m.sample AND r.edition <> e.no
    ), changes AS ( -- what was published last, beside what is now
        SELECT o.tranche, o.whole, o.sample, o.result AS was, n.result AS now, g.id AS stands, coalesce(x.merged_into, x.id) AS sender,
               b.state = 'void' OR s.county <> t.county OR t.kind <> 'remainder' AND NOT s.place = ANY (t.places) AS gone
          FROM old o
          JOIN places t ON t.id = o.tranche
          JOIN priv.sample s ON s.id = o.sample
          LEFT JOIN priv.sender x ON x.id = s.sender
          LEFT JOIN priv.bag_link l ON l.sample = s.id
          LEFT JOIN priv.bag b ON b.code = l.bag
          LEFT JOIN priv.member_result n ON n.sample = o.sample AND n.edition = e.no
          LEFT JOIN priv.signed g ON g.sample = o.sample
         WHERE o.edition = o.last
    ), counts AS (
        SELECT tranche, sum(n) AS n, array_agg(rank ORDER BY rank) AS ranks FROM open.tranche_count WHERE edition = e.no GROUP BY 1
    ), cuts AS (
        SELECT DISTINCT o.tranche, round(k.cut::numeric, 6) AS cut
          FROM ours o
          JOIN priv.tranche_part p ON p.tranche = o.tranche
          JOIN open.tranche_count c ON c.tranche = p.part
          JOIN (SELECT no, scheme FROM open.edition UNION SELECT e.no, e.scheme) x ON x.no = c.edition
          JOIN (SELECT scheme, upper AS cut FROM open.scheme_class WHERE upper < 'Infinity' AND upper > 0
                UNION SELECT id, trace FROM open.scheme WHERE trace > 0) k ON k.scheme = x.scheme
    )
    SELECT 'again_recalled' -- an erratum and a return are of what was taken back, a restatement of what stands
      FROM ours o
      LEFT JOIN (SELECT tranche, max(upto) AS upto FROM open.recall GROUP BY 1) r ON r.tranche = o.tranche
      LEFT JOIN (SELECT tranche, max(edition) AS edition FROM open.tranche_count WHERE edition < e.no GROUP BY 1) c ON c.tranche = o.tranche
      LEFT JOIN open.tranche_join j ON j.tranche = o.tranche
     WHERE coalesce(r.upto >= c.edition, false) = (e.kind = 'restated') OR (j.whole IS NOT NULL) <> (e.kind = 'release')
    UNION ALL
    SELECT 'again_place' FROM ours o JOIN places a ON a.id = o.tranche JOIN places b ON b.id = o.whole
     WHERE (a.county, a.kind, a.places) IS DISTINCT FROM (b.county, b.kind, b.places) OR a.through > b.through
    UNION ALL
    SELECT 'again_results' FROM changes -- whole, but for what is void or from elsewhere, and as it stands
     WHERE CASE WHEN e.kind = 'restated' THEN now IS NOT NULL
           ELSE (coalesce(gone, false) <> (now IS NULL)) OR now IS NOT NULL AND now IS DISTINCT FROM stands END
    UNION ALL
    SELECT 'again_samples' FROM counts c JOIN ours o ON o.tranche = c.tranche JOIN places t ON t.id = c.tranche
     WHERE t.edition <> e.no AND (
           c.n <> (SELECT count(*) FROM changes g WHERE g.tranche = c.tranche AND (e.kind = 'restated' OR g.now IS NOT NULL))
           OR c.ranks IS DISTINCT FROM ARRAY(SELECT generate_series(0, CASE WHEN t.coarse THEN 3
              ELSE (SELECT count(*)::int FROM open.scheme_class WHERE scheme = e.scheme) END - 1)))
    UNION ALL
    SELECT 'again_few' FROM ours o -- fewer new results than hide what was put right
      JOIN open.tranche t ON t.id = o.whole
     WHERE e.kind = 'release'
       AND t.samples - (SELECT count(*) FROM changes g WHERE g.whole = o.whole) < e.k
    UNION ALL
    SELECT 'again_few' FROM ours o
     WHERE e.kind = 'erratum' AND (
           SELECT count(DISTINCT g.sender) FROM changes g WHERE g.tranche = o.tranche AND g.now IS DISTINCT FROM g.was) < e.k
    UNION ALL
    SELECT 'again_cuts'
      FROM (SELECT cut, lag(cut) OVER (PARTITION BY tranche ORDER BY cut) AS before, row_number() OVER (PARTITION BY tranche ORDER BY cut) AS nth FROM cuts) c
     WHERE e.kind = 'restated' AND (nth > 8 OR cut <= 2 * before)
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
    IF v_rule IS NULL AND NEW.kind = 'release' THEN
        SELECT min(f) INTO v_rule FROM priv.member_faults(NEW) f;
    END IF;
    IF v_rule IS NULL AND NEW.kind = 'release' THEN
        SELECT min(f) INTO v_rule FROM priv.fall_faults(NEW) f;
    END IF;
    IF v_rule IS NULL AND (NEW.kind <> 'release' OR EXISTS (
           SELECT FROM open.tranche_join j WHERE j.whole BETWEEN NEW.no * 1000000 AND NEW.no * 1000000 + 999999)) THEN
        SELECT min(f) INTO v_rule FROM priv.again_faults(NEW) f;
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
    ELSIF TG_ARGV[0] = 'whole' THEN
        PERFORM FROM added a JOIN open.tranche t ON t.id = a.whole JOIN open.edition e ON e.no = t.edition;
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
CREATE TRIGGER tranche_join_late AFTER INSERT ON open.tranche_join
    REFERENCING NEW TABLE AS added FOR EACH STATEMENT EXECUTE FUNCTION priv.refuse_late_part('whole');

-- A recall is of what stands, up to the newest edition. It waits for a release
-- under way, so that no edition is counted from what was just taken back.
-- +goose StatementBegin
CREATE FUNCTION priv.check_recall() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtext('sixmile release'));
    PERFORM FROM open.tranche_state s
      WHERE s.tranche = NEW.tranche AND s.whole IS NULL AND NOT s.recalled AND NEW.upto = (SELECT max(no) FROM open.edition);
    IF NOT FOUND THEN
        RAISE EXCEPTION 'only what stands can be recalled' USING ERRCODE = 'check_violation', CONSTRAINT = 'recall_stands';
    END IF;
    RETURN NEW;
END $$;
-- +goose StatementEnd
CREATE TRIGGER recall_stands BEFORE INSERT ON open.recall
    FOR EACH ROW EXECUTE FUNCTION priv.check_recall();

-- Withdrawing an edition recalls what it counted, and frees no result. Of a
-- restatement only its tables go: the same results stand as they were counted before.
-- +goose StatementBegin
CREATE FUNCTION priv.recall_with_edition() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtext('sixmile release'));
    INSERT INTO open.recall (tranche, upto, reason, day)
    SELECT DISTINCT s.tranche, (SELECT max(no) FROM open.edition), NEW.reason, NEW.day
      FROM open.tranche_state s
      JOIN open.tranche_count c ON c.tranche = s.tranche AND c.edition = NEW.edition
      JOIN open.edition e ON e.no = NEW.edition AND e.kind <> 'restated'
     WHERE s.whole IS NULL AND NOT s.recalled;
    RETURN NULL;
END $$;
-- +goose StatementEnd
CREATE TRIGGER withdrawal_recalls AFTER INSERT ON open.withdrawal
    FOR EACH ROW EXECUTE FUNCTION priv.recall_with_edition();
