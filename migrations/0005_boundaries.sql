-- Boundaries laid out to be looked over before they are accepted, and the rule
-- by which a point belongs to one place.

-- +goose Up

-- Not logged: after a crash a file is simply laid out again.
CREATE UNLOGGED TABLE priv.stage (
    ticket      uuid  PRIMARY KEY,
    made        date  NOT NULL,
    digest      bytea NOT NULL,
    srid        int   NOT NULL,
    base        int   NOT NULL,
    inspection  jsonb NOT NULL
);
COMMENT ON COLUMN priv.stage.base IS 'the set in force that it was compared with, 0 where there was none';

CREATE UNLOGGED TABLE priv.stage_shape (
    ticket   uuid NOT NULL REFERENCES priv.stage ON DELETE CASCADE,
    n        int  NOT NULL,
    kind     text NOT NULL CHECK (kind IN ('county', 'township')),
    code     text NOT NULL,
    name     text NOT NULL,
    county   int,
    place    int,
    geom     geometry(MultiPolygon, 4326) NOT NULL,
    outline  geometry(MultiPolygon) NOT NULL,
    PRIMARY KEY (ticket, n)
);
COMMENT ON COLUMN priv.stage_shape.county IS 'of a township: n of its county';
COMMENT ON COLUMN priv.stage_shape.place IS 'the place it was known again as, null for a new one';

-- Whether a point of whole meters belongs to an outline: what lies to its east
-- counts, as in Go's outline.Shape.Holds. An edge's lower end is part of it, its
-- upper end is not; so of neighbors exactly one holds a point on their border,
-- that to the east, or to the north of an edge that runs due east and west.
-- +goose StatementBegin
CREATE FUNCTION open.holds(outline geometry, x bigint, y bigint) RETURNS boolean
LANGUAGE sql IMMUTABLE PARALLEL SAFE AS $$
    SELECT count(*) % 2 = 1
      FROM (SELECT ST_X(ST_StartPoint(d.geom))::bigint AS ax, ST_Y(ST_StartPoint(d.geom))::bigint AS ay,
                   ST_X(ST_EndPoint(d.geom))::bigint AS bx, ST_Y(ST_EndPoint(d.geom))::bigint AS byy
              FROM ST_DumpSegments(outline) d) e
     WHERE (ay <= y AND y < byy AND (bx - ax) * (y - ay) - (byy - ay) * (x - ax) > 0)
        OR (byy <= y AND y < ay AND (ax - bx) * (y - byy) - (ay - byy) * (x - bx) > 0)
$$;
-- +goose StatementEnd

CREATE INDEX place_shape_outline ON open.place_shape USING gist (outline);
