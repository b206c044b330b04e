-- A saved plan keeps all that it was given of each township, so that other ways
-- of handing out can be compared with it later.

-- +goose Up
ALTER TABLE priv.plan_place
    ADD COLUMN miss   double precision NOT NULL DEFAULT 1 CHECK (miss BETWEEN 0 AND 1),
    ADD COLUMN clean  double precision NOT NULL DEFAULT 1 CHECK (clean BETWEEN 0 AND 1),
    ADD COLUMN level  double precision NOT NULL DEFAULT 0 CHECK (level BETWEEN 0 AND 1);
COMMENT ON COLUMN priv.plan_place.miss IS 'the chance that clean bags so far have missed it';
COMMENT ON COLUMN priv.plan_place.clean IS 'what one more clean bag multiplies that by';
COMMENT ON COLUMN priv.plan_place.level IS 'how high the highest level is; 0 without finds';
