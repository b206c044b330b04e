-- The years after: how long a closed season stays linked to bags and senders.

-- +goose Up
ALTER TABLE open.program ADD COLUMN keep_months int NOT NULL DEFAULT 24 CHECK (keep_months BETWEEN 6 AND 120);
COMMENT ON COLUMN open.program.keep_months IS
    'so long after a season closed bags, senders and answers of its released samples are forgotten; receipts print the day';

-- The day on which each season is unlinked: receipts and answers print it.
CREATE VIEW open.season_end AS
SELECT s.year, (s.closes + make_interval(months => p.keep_months))::date AS unlinked
  FROM open.season s, open.program p;
