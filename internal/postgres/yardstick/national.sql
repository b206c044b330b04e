-- A nation: 3,100 counties in 50 rows of 62, each of six by five townships of six
-- miles but one, twenty falls with an edition each, and a group of three to eight
-- bags from every township in every edition: ten million bags in all. Everything
-- follows from numbers. Counties are 1 to 3100, townships from 10001 on.
INSERT INTO open.season (year, opens, closes) SELECT y, make_date(y, 8, 1), make_date(y + 1, 7, 31) FROM generate_series(2007, 2026) y;
INSERT INTO open.boundary_set (id, digest, srid, accepted, outline)
VALUES (1, sha256('nation'), 3857, '2007-01-01', ST_Multi(ST_MakeEnvelope(0, 0, 62 * 57936, 50 * 48280, 3857)));
CREATE TEMP TABLE lot ON COMMIT DROP AS
SELECT c, t, 10000 + 29 * (c - 1) + t AS id, (c - 1) % 62 * 57936 + (t - 1) % 6 * 9656 AS x, (c - 1) / 62 * 48280 + (t - 1) / 6 * 9656 AS y
  FROM generate_series(1, 3100) c, generate_series(1, 29) t;
INSERT INTO open.place (id, kind, code, name, slug) SELECT c, 'county', to_char(c, 'FM0000'), 'Invented ' || c, 'invented-' || c FROM generate_series(1, 3100) c;
INSERT INTO open.place (id, kind, code, name, slug, county) SELECT id, 'township', 'T' || t || 'N R1E', 'Town ' || t, 'town-' || t, c FROM lot;
INSERT INTO open.place_shape (set, place, code, name, geom, outline)
SELECT 1, p.id, p.code, p.name, ST_Transform(s.g, 4326), s.g
  FROM open.place p
  JOIN (SELECT id, ST_Multi(ST_MakeEnvelope(x, y, x + 9656, y + 9656, 3857)) AS g FROM lot
        UNION ALL SELECT c, ST_Multi(ST_MakeEnvelope((c - 1) % 62 * 57936, (c - 1) / 62 * 48280, (c - 1) % 62 * 57936 + 57936, (c - 1) / 62 * 48280 + 48280, 3857))
          FROM generate_series(1, 3100) c) s ON s.id = p.id;
INSERT INTO open.adjacency (set, a, b)
SELECT 1, c, c + 1 FROM generate_series(1, 3099) c WHERE c % 62 > 0
UNION ALL SELECT 1, c, c + 62 FROM generate_series(1, 3038) c
UNION ALL SELECT 1, id, id + 1 FROM lot WHERE t % 6 > 0 AND t < 29
UNION ALL SELECT 1, id, id + 6 FROM lot WHERE t < 24;
INSERT INTO open.edition (no, kind, set, scheme, parameters, k, season, cutoff, released, digest, code)
SELECT e, 'release', 1, 1, 1, 3, 2006 + e, make_date(2006 + e, 12, 31), make_date(2007 + e, 1, 15), sha256(e::text::bytea), 'NAT' || chr(64 + e) || '-22'
  FROM generate_series(1, 20) e;
CREATE TEMP TABLE haul ON COMMIT DROP AS
SELECT e * 1000000 + row_number() OVER (PARTITION BY e ORDER BY id)::int AS tranche, e, id, c,
       3 + abs(hashint4(id * 20 + e)::bigint) % 6 AS samples, abs(hashint4(id)::bigint) % 4 AS rank,
       abs(hashint4(id * 7 + e)::bigint) % 3 AS finds
  FROM lot, generate_series(1, 20) e;
INSERT INTO open.tranche SELECT tranche, e, 3, c, 'township', samples, true, 2006 + e, false FROM haul ORDER BY tranche;
INSERT INTO open.tranche_place SELECT tranche, id FROM haul ORDER BY tranche;
INSERT INTO open.tranche_count
SELECT tranche, e, r.rank, CASE WHEN r.rank = 0 THEN samples - CASE WHEN h.rank > 0 THEN finds ELSE 0 END WHEN r.rank = h.rank THEN finds ELSE 0 END
  FROM haul h, (SELECT rank FROM open.scheme_class WHERE scheme = 1) r
 ORDER BY tranche, r.rank;
INSERT INTO open.fall_figure SELECT e, c, 2006 + e, 160, 40, NULL FROM generate_series(1, 20) e, generate_series(1, 3100) c;
