-- The lab: in what condition soil came, in which cup of which tray it stands,
-- what watches over the counting, and files of counts that were taken. Dates
-- only; what a scanner brought that is no bag of ours is a number and a day.

-- +goose Up
-- How many bags a lot had when it was issued: what its bags' states must add up to.
ALTER TABLE priv.lot ADD COLUMN bags int CHECK (bags > 0);

ALTER TABLE priv.bag ADD COLUMN condition text CHECK (condition IN
    ('good', 'wet', 'dry', 'frozen', 'torn', 'short', 'not_soil', 'unmarked', 'out_state'));

-- The one state of a bag. Waiting is what was signed when an edition was cut and
-- is not in it: it follows from the editions and is stored nowhere.
CREATE VIEW priv.bag_state AS
SELECT b.code, b.bundle,
       CASE WHEN b.state = 'signed' AND b.received <= (SELECT max(cutoff) FROM open.edition)
            THEN 'waiting' ELSE b.state END AS state
  FROM priv.bag b;

-- How a fall's trays are filled; next is the number of the next bag.
CREATE TABLE priv.tray_plan (
    season     int PRIMARY KEY REFERENCES open.season,
    cups       int NOT NULL DEFAULT 40 CHECK (cups BETWEEN 1 AND 400),
    blanks     int NOT NULL DEFAULT 1 CHECK (blanks >= 0),
    checks     int NOT NULL DEFAULT 1 CHECK (checks >= 0),
    seed       bigint NOT NULL,
    next       int NOT NULL DEFAULT 1 CHECK (next >= 1),
    target     double precision CHECK (target > 0 AND target < 'Infinity'),
    keep_days  int NOT NULL DEFAULT 7 CHECK (keep_days BETWEEN 0 AND 60),
    recounts   int NOT NULL DEFAULT 12 CHECK (recounts BETWEEN 0 AND 500),
    CHECK (cups - blanks - checks >= 2)
);
COMMENT ON COLUMN priv.tray_plan.target IS 'eggs per 100 cm3 in the soil of the check samples; null: not said';
COMMENT ON COLUMN priv.tray_plan.keep_days IS 'how long a suspension is kept after its count';
COMMENT ON COLUMN priv.tray_plan.recounts IS 'recounts asked for in one day at the most';

CREATE TABLE priv.seat (
    season  int  NOT NULL REFERENCES priv.tray_plan,
    tray    int  NOT NULL CHECK (tray > 0),
    cup     int  NOT NULL CHECK (cup > 0),
    bag     text NOT NULL UNIQUE REFERENCES priv.bag,
    PRIMARY KEY (season, tray, cup)
);

-- Blanks and check samples. The same cup keyed again is a new row; the last stands.
CREATE TABLE priv.control (
    season        int  NOT NULL REFERENCES priv.tray_plan,
    tray          int  NOT NULL CHECK (tray > 0),
    cup           int  NOT NULL CHECK (cup > 0),
    no            int  NOT NULL CHECK (no > 0),
    kind          text NOT NULL CHECK (kind IN ('blank', 'check')),
    method        int  NOT NULL REFERENCES open.method,
    eggs          int  NOT NULL CHECK (eggs >= 0),
    cyst          boolean NOT NULL,
    density       double precision NOT NULL CHECK (density >= 0 AND density < 'Infinity'),
    day           date NOT NULL,
    by_staff      uuid REFERENCES priv.staff,
    PRIMARY KEY (season, tray, cup, no)
);
CREATE VIEW priv.standing_control AS
SELECT c.*
  FROM priv.control c
 WHERE NOT EXISTS (SELECT FROM priv.control n WHERE n.season = c.season AND n.tray = c.tray AND n.cup = c.cup AND n.no > c.no);

-- A bag counted a second time to watch the lab, not to change its result.
CREATE TABLE priv.duplicate (
    id            uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    result        uuid NOT NULL REFERENCES priv.result,
    twin          text NOT NULL CHECK (twin IN ('same_suspension', 'same_bag')),
    soil_cm3      double precision NOT NULL CHECK (soil_cm3 > 0),
    suspension_ml double precision NOT NULL CHECK (suspension_ml > 0),
    portion_ml    double precision[] NOT NULL,
    portion_eggs  int[] NOT NULL,
    day           date NOT NULL,
    by_staff      uuid REFERENCES priv.staff,
    CHECK (cardinality(portion_ml) = cardinality(portion_eggs) AND cardinality(portion_ml) BETWEEN 1 AND 8)
);
CREATE INDEX duplicate_result ON priv.duplicate (result);

-- Soil that came and is no bag of ours as it stands: a code nobody issued, none
-- to be read, or from elsewhere.
CREATE TABLE priv.stray (
    id       uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    day      date NOT NULL,
    code     text CHECK (code ~ '^[2-9A-HJKMNP-Z]{8}$'),
    kind     text NOT NULL CHECK (kind IN ('unknown', 'void', 'unreadable', 'not_ours')),
    form     bytea UNIQUE CHECK (length(form) = 32),
    settled  date,
    fate     text CHECK (fate IN ('retyped', 'laid_aside', 'sent_back')),
    CHECK ((settled IS NULL) = (fate IS NULL)),
    CHECK (code IS NOT NULL OR kind IN ('unreadable', 'not_ours'))
);
COMMENT ON COLUMN priv.stray.form IS 'the sending of the page that noted it, so that one sent twice notes it once';
CREATE UNIQUE INDEX stray_open ON priv.stray (code) WHERE settled IS NULL;

-- The mail, counted by hand before anything is scanned.
CREATE TABLE priv.mail (
    day   date PRIMARY KEY,
    bags  int  NOT NULL CHECK (bags BETWEEN 0 AND 100000)
);

-- Files of counts that were taken, by what they say.
CREATE TABLE priv.upload (
    digest    text PRIMARY KEY,
    day       date NOT NULL,
    bags      int  NOT NULL CHECK (bags >= 0),
    by_staff  uuid REFERENCES priv.staff
);
CREATE TABLE priv.upload_memory (
    only_one  boolean PRIMARY KEY DEFAULT true CHECK (only_one),
    columns   jsonb NOT NULL DEFAULT '{}'
);
COMMENT ON COLUMN priv.upload_memory.columns IS 'what the office said columns mean, by header';

-- A test on indicator lines. Never changed: another one supersedes it.
CREATE TABLE priv.indicator (
    id          uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    sample      uuid NOT NULL REFERENCES priv.sample,
    pots        jsonb NOT NULL,
    day         date NOT NULL,
    supersedes  uuid UNIQUE,
    by_staff    uuid REFERENCES priv.staff,
    UNIQUE (id, sample),
    FOREIGN KEY (supersedes, sample) REFERENCES priv.indicator (id, sample)
);
COMMENT ON COLUMN priv.indicator.pots IS 'females in each pot: of line n at n, of the susceptible check at 0';
CREATE UNIQUE INDEX indicator_first ON priv.indicator (sample) WHERE supersedes IS NULL;

-- The sieves of a recipe, from a list; null: not said.
ALTER TABLE open.method ADD COLUMN sieves text CHECK (sieves IN ('s20_60', 's20_60_200_500', 'elutriator', 'other'));

CREATE TRIGGER control_immutable BEFORE UPDATE OR DELETE ON priv.control
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER duplicate_immutable BEFORE UPDATE OR DELETE ON priv.duplicate
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER upload_immutable BEFORE UPDATE OR DELETE ON priv.upload
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER indicator_immutable BEFORE UPDATE OR DELETE ON priv.indicator
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
