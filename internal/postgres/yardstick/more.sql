-- Another fall on top of what load.sql made: current_setting('yardstick.n') results
-- of 2027 at the same places, from other senders.
INSERT INTO open.season (year, opens, closes) VALUES (2027, '2027-08-01', '2028-07-31');
CREATE TEMP TABLE bags ON COMMIT DROP AS
SELECT i, gen_random_uuid() AS sample, gen_random_uuid() AS result, gen_random_uuid() AS bundle,
       md5('sender of 2027 ' || h % (n / 2))::uuid AS sender, 1000 * (1 + h / 7 % 100) + 1 + (h / 7000 % 36) AS place, 1 + h / 7 % 100 AS county,
       (SELECT string_agg(substr('23456789ABCDEFGHJKMNPQRSTUVWXYZ', 1 + (i / (31 ^ d)::int % 31), 1), '') FROM generate_series(0, 4) d) || '333' AS code,
       CASE WHEN i % 3 = 0 THEN 0 ELSE i % 97 END AS eggs
  FROM (SELECT i, abs(hashint4(i)::bigint)::int AS h, current_setting('yardstick.n')::int AS n
          FROM generate_series(1, current_setting('yardstick.n')::int) i) g;
INSERT INTO priv.lot SELECT gen_random_uuid(), 2027, 1, '2027-08-01';
INSERT INTO priv.sender SELECT DISTINCT sender FROM bags;
INSERT INTO priv.bundle SELECT bundle, (SELECT id FROM priv.lot WHERE season = 2027), sender FROM bags;
INSERT INTO priv.bag SELECT code, bundle, 1, 'signed', '2027-11-01' FROM bags;
INSERT INTO priv.sample SELECT sample, sender, place, county, 2027, '2027-10-10', 2 FROM bags;
INSERT INTO priv.bag_link SELECT code, sample FROM bags;
INSERT INTO priv.result
SELECT result, sample, 'counted', 1, 100, 100, 2, eggs, 50 * eggs, greatest(0, 50 * (eggs - 2 * sqrt(eggs))),
       50 * (eggs + 4 + 2 * sqrt(eggs)), eggs > 0, false, '2027-11-02', NULL, NULL
  FROM bags;
INSERT INTO priv.batch SELECT '00000000-0000-4000-8000-000000002027', '2027-11-20';
INSERT INTO priv.signature SELECT result, '00000000-0000-4000-8000-000000002027' FROM bags;
