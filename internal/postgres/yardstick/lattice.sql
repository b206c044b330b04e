-- 900 counties of ten by ten townships in a lattice of 300 by 300, a twentieth of
-- a degree each, with names of two made-up words and a town in every tenth.
INSERT INTO open.boundary_set (id, digest, srid, accepted) VALUES (1, '\x00', 32615, '2020-01-01');
CREATE FUNCTION pg_temp.word(n bigint, salt text) RETURNS text LANGUAGE sql IMMUTABLE AS $$
	SELECT initcap(string_agg(substr('bacedofiguhajekilomunapeqirosutavewixoyuzabrcldrfrglprstthwhelandton',
	       2 * get_byte(decode(md5(salt || n), 'hex'), i) % 64 + 1, 2), ''))
	  FROM generate_series(0, 1 + get_byte(decode(md5(salt || n), 'hex'), 9) % 3) i
$$;
INSERT INTO open.place (id, kind, code, name, slug)
SELECT c, 'county', to_char(c, 'FM000'), pg_temp.word(c, 'county') || ' ' || c, 'county-' || c FROM generate_series(1, 900) c;
INSERT INTO open.place (id, kind, code, name, slug, county)
SELECT 1000 + 300 * t + r, 'township', format('T%sN R%sE', t, r),
       pg_temp.word(300 * t + r, 'a') || ' ' || pg_temp.word(300 * t + r, 'b'), 'township-' || t || '-' || r,
       (t - 1) / 10 * 30 + (r - 1) / 10 + 1
  FROM generate_series(1, 300) t, generate_series(1, 300) r;
INSERT INTO open.place_name (set, place, kind, name, folded)
SELECT 1, id, 'name', name, lower(name) FROM open.place
UNION ALL SELECT 1, id, 'code', code, lower(code) FROM open.place
UNION ALL SELECT 1, id, 'town', pg_temp.word(id, 'town'), lower(pg_temp.word(id, 'town'))
  FROM open.place WHERE kind = 'township' AND id % 10 = 0;
INSERT INTO open.place_survey (set, place, township, ns, range, ew, meridian)
SELECT 1, id, 4 * ((id - 1001) / 300), 'N', 4 * ((id - 1001) % 300 + 1), 'E', 0
  FROM open.place WHERE kind = 'township' AND (id - 1001) / 300 > 0;
