-- A hundred counties of six by six townships in districts of six, and
-- current_setting('yardstick.n') results. Everything follows from row numbers.
INSERT INTO open.season (year, opens, closes) VALUES (2026, '2026-08-01', '2027-07-31');
INSERT INTO open.boundary_set (id, digest, srid, accepted) VALUES (1, sha256('yardstick'), 3857, '2026-08-01');
INSERT INTO open.place (id, kind, code, name, slug, county) SELECT c, 'county', c::text, 'County ' || c, 'county-' || c, NULL FROM generate_series(1, 100) c;
INSERT INTO open.place (id, kind, code, name, slug, county) SELECT 1000 * c + t, 'township', t::text, 'Town ' || t, 'town-' || t, c
  FROM generate_series(1, 100) c, generate_series(1, 36) t;
INSERT INTO open.place (id, kind, code, name, slug, county) SELECT 1000 * c + 100 + d, 'district', d::text, 'District ' || d, 'district-' || d, c
  FROM generate_series(1, 100) c, generate_series(1, 6) d;
INSERT INTO open.district (set, township, district) SELECT 1, 1000 * c + t, 1000 * c + 101 + (t - 1) / 6
  FROM generate_series(1, 100) c, generate_series(1, 36) t;
-- Every place has the same square: a release does not look at shapes.
INSERT INTO open.place_shape
SELECT (jsonb_populate_record(NULL::open.place_shape, jsonb_build_object('set', 1, 'place', p.id, 'code', p.code, 'name', p.name,
           'geom', 'SRID=4326;MULTIPOLYGON(((0 0,1 0,1 1,0 1,0 0)))', 'outline', 'SRID=3857;MULTIPOLYGON(((0 0,1 0,1 1,0 1,0 0)))'))).*
  FROM open.place p WHERE p.kind <> 'district';

CREATE TEMP TABLE bags ON COMMIT DROP AS
SELECT i, gen_random_uuid() AS sample, gen_random_uuid() AS result, gen_random_uuid() AS bundle,
       md5('sender ' || h % (n / 2))::uuid AS sender, 1000 * (1 + h / 7 % 100) + 1 + (h / 7000 % 36) AS place, 1 + h / 7 % 100 AS county,
       (SELECT string_agg(substr('23456789ABCDEFGHJKMNPQRSTUVWXYZ', 1 + (i / (31 ^ d)::int % 31), 1), '') FROM generate_series(0, 4) d) || '222' AS code,
       CASE WHEN i % 3 = 0 THEN 0 ELSE i % 97 END AS eggs
  FROM (SELECT i, abs(hashint4(i)::bigint)::int AS h, current_setting('yardstick.n')::int AS n
          FROM generate_series(1, current_setting('yardstick.n')::int) i) g;
INSERT INTO priv.lot SELECT gen_random_uuid(), 2026, 1, '2026-08-01';
INSERT INTO priv.sender SELECT DISTINCT sender FROM bags;
INSERT INTO priv.bundle SELECT bundle, (SELECT id FROM priv.lot), sender FROM bags;
INSERT INTO priv.bag SELECT code, bundle, 1, 'signed', '2026-11-01' FROM bags;
INSERT INTO priv.sample SELECT sample, sender, place, county, 2026, '2026-10-10', 2 FROM bags;
INSERT INTO priv.bag_link SELECT code, sample FROM bags;
INSERT INTO priv.result
SELECT result, sample, 'counted', 1, 100, 100, 2, eggs, 50 * eggs, greatest(0, 50 * (eggs - 2 * sqrt(eggs))),
       50 * (eggs + 4 + 2 * sqrt(eggs)), eggs > 0, false, '2026-11-02', NULL, NULL
  FROM bags;
INSERT INTO priv.batch SELECT gen_random_uuid(), '2026-11-20';
INSERT INTO priv.signature SELECT result, (SELECT id FROM priv.batch) FROM bags;
