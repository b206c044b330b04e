-- The release of what load.sql made: a tranche for every township with three
-- senders. All came once and in one fall, so senders are distinct numbers.
SET LOCAL work_mem = '64MB';
SET LOCAL enable_nestloop = off;
CREATE TEMP TABLE pool ON COMMIT DROP AS
SELECT a.sample, a.sender, a.place, a.county, a.result, a.density, (SELECT min(c.rank) FROM open.scheme_class c
       WHERE c.scheme = 1 AND c.kind <> 'unconfirmed' AND a.density <= c.upper) AS rank
  FROM priv.arrival a
 WHERE a.received <= '2026-12-31' AND a.season <= 2026 AND a.tranche IS NULL;
CREATE TEMP TABLE due ON COMMIT DROP AS
SELECT place, county, count(*)::int AS samples, 1000000 + row_number() OVER (ORDER BY county, place)::int AS tranche
  FROM pool
 GROUP BY place, county
HAVING count(DISTINCT sender) >= 3 AND count(result) = count(*);
INSERT INTO open.tranche SELECT tranche, 1, 3, county, 'township', samples, true, 2026, false FROM due;
INSERT INTO open.tranche_place SELECT tranche, place FROM due;
INSERT INTO open.tranche_count
SELECT d.tranche, 1, c.rank, coalesce(n.n, 0)
  FROM due d
  CROSS JOIN (SELECT rank FROM open.scheme_class WHERE scheme = 1) c
  LEFT JOIN (SELECT place, rank, count(*)::int AS n FROM pool GROUP BY 1, 2) n ON n.place = d.place AND n.rank = c.rank;
INSERT INTO priv.tranche_member SELECT p.sample, d.tranche FROM due d JOIN pool p ON p.place = d.place;
INSERT INTO priv.member_result SELECT p.sample, 1, p.result FROM due d JOIN pool p ON p.place = d.place;
INSERT INTO open.fall_figure (edition, county, season, samples, finds, highest)
SELECT 1, county, 2026, priv.about(n, greatest(shown, 5)), priv.about(finds, greatest(finds_shown, CASE WHEN waiting >= 5 THEN 1 ELSE 0 END)),
       CASE WHEN waiting >= 5 THEN rank END
  FROM (SELECT p.county, count(*)::int AS n, count(*) FILTER (WHERE p.density > 0)::int AS finds,
               count(d.tranche)::int AS shown, count(*) FILTER (WHERE p.density > 0 AND d.tranche IS NOT NULL)::int AS finds_shown,
               count(DISTINCT p.sender) AS senders, count(DISTINCT p.sender) FILTER (WHERE d.tranche IS NULL) AS waiting, max(p.rank) AS rank
          FROM pool p LEFT JOIN due d ON d.place = p.place
         WHERE p.result IS NOT NULL
         GROUP BY p.county) f
 WHERE senders >= 5;
INSERT INTO open.edition (no, kind, set, scheme, parameters, k, season, cutoff, released, digest, code)
VALUES (1, 'release', 1, 1, 1, 3, 2026, '2026-12-31', '2027-01-15', sha256('yardstick'), 'YARD-ST');
UPDATE priv.bag b SET state = 'released'
  FROM priv.bag_link l JOIN priv.tranche_member m ON m.sample = l.sample
 WHERE l.bag = b.code AND m.tranche BETWEEN 1000000 AND 1999999;
