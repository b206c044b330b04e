-- Points of past results are looked up by the shapes as loaded.

-- +goose Up
CREATE INDEX place_shape_geom ON open.place_shape USING gist (geom);
