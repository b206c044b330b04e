-- What waits is found from few rows to many.

-- +goose Up

-- A result superseded none: said twice, so that the index gives only the few that
-- did and not every first result.
CREATE OR REPLACE VIEW priv.head AS
SELECT r.*
  FROM priv.result r
 WHERE NOT EXISTS (SELECT 1 FROM priv.result n WHERE n.supersedes = r.id AND n.supersedes IS NOT NULL);

-- The same rows as before. With the signed results as one part of the join all that
-- there ever were came first, to be joined with what waits; now each table is read
-- through once beside the samples that are asked for. A sample has one result that
-- nothing supersedes, or none; where that one is not signed it has none to show.
CREATE OR REPLACE VIEW priv.arrival AS
SELECT s.id AS sample, coalesce(x.merged_into, x.id) AS sender, s.standing, s.place, s.county, s.season,
       b.received, m.tranche, m.tranche / 1000000 AS edition,
       CASE WHEN g.result IS NOT NULL THEN h.id END AS result, CASE WHEN g.result IS NOT NULL THEN h.kind END AS kind,
       CASE WHEN g.result IS NOT NULL THEN h.eggs END AS eggs, CASE WHEN g.result IS NOT NULL THEN h.density END AS density,
       CASE WHEN g.result IS NOT NULL THEN h.low END AS low, CASE WHEN g.result IS NOT NULL THEN h.high END AS high,
       CASE WHEN g.result IS NOT NULL THEN h.cyst END AS cyst, CASE WHEN g.result IS NOT NULL THEN h.juveniles END AS juveniles
  FROM priv.sample s
  JOIN priv.bag_link l ON l.sample = s.id
  JOIN priv.bag b ON b.code = l.bag AND b.received IS NOT NULL AND b.state <> 'void'
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.tranche_member m ON m.sample = s.id
  LEFT JOIN priv.result h ON h.sample = s.id
  LEFT JOIN priv.result n ON n.supersedes = h.id AND n.supersedes IS NOT NULL
  LEFT JOIN priv.signature g ON g.result = h.id
 WHERE n.supersedes IS NULL
UNION ALL
SELECT s.id, coalesce(x.merged_into, x.id), s.standing, s.place, s.county, s.season,
       s.day, m.tranche, m.tranche / 1000000,
       h.id, h.kind, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles
  FROM priv.sample s
  JOIN priv.signed h ON h.sample = s.id AND (h.kind <> 'class' OR h.scheme = (SELECT open.scheme_in_force()))
  LEFT JOIN priv.sender x ON x.id = s.sender
  LEFT JOIN priv.tranche_member m ON m.sample = s.id
 WHERE s.source = 'past';
