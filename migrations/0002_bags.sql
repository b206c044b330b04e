-- Bags, what senders said, what the lab saw. Dates only, never a clock time;
-- ids are random, because a serial number is a clock.

-- +goose Up
CREATE TABLE priv.staff (
    id      uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    login   text NOT NULL UNIQUE CHECK (login ~ '^[a-z0-9][a-z0-9._-]{1,39}$'),
    name    text NOT NULL,
    hash    text NOT NULL,
    role    text NOT NULL CHECK (role IN ('clerk', 'technician', 'educator', 'coordinator')),
    active  boolean NOT NULL DEFAULT true
);

-- The counties a clerk or an educator works for; none: the whole program.
CREATE TABLE priv.staff_county (
    staff   uuid NOT NULL REFERENCES priv.staff,
    county  int  NOT NULL REFERENCES open.place,
    PRIMARY KEY (staff, county)
);

CREATE TABLE priv.session (
    hash     bytea PRIMARY KEY CHECK (length(hash) = 32),
    staff    uuid NOT NULL REFERENCES priv.staff,
    created  date NOT NULL,
    used     date NOT NULL
);

CREATE TABLE priv.trail (
    id      uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    day     date NOT NULL,
    staff   uuid REFERENCES priv.staff,
    action  text NOT NULL,
    detail  jsonb NOT NULL DEFAULT '{}'
);
COMMENT ON TABLE priv.trail IS 'what staff did, without bag or sample ids';

CREATE TABLE priv.sender (
    id           uuid PRIMARY KEY,
    merged_into  uuid REFERENCES priv.sender,
    CHECK (merged_into <> id)
);
CREATE INDEX sender_merged ON priv.sender (merged_into) WHERE merged_into IS NOT NULL;

CREATE TABLE priv.lot (
    id      uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    season  int  NOT NULL REFERENCES open.season,
    county  int  NOT NULL REFERENCES open.place,
    issued  date NOT NULL
);

CREATE TABLE priv.bundle (
    id      uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    lot     uuid NOT NULL REFERENCES priv.lot,
    sender  uuid REFERENCES priv.sender,
    follows uuid
);
COMMENT ON COLUMN priv.bundle.follows IS 'the sample of an unconfirmed result: this is its free follow-up bag';
CREATE INDEX bundle_lot ON priv.bundle (lot);

CREATE TABLE priv.bag (
    code      text PRIMARY KEY CHECK (code ~ '^[2-9A-HJKMNP-Z]{8}$'),
    bundle    uuid NOT NULL REFERENCES priv.bundle,
    position  int  NOT NULL CHECK (position BETWEEN 1 AND 6),
    state     text NOT NULL DEFAULT 'issued' CHECK (state IN
              ('issued', 'handed_out', 'form_in', 'soil_in', 'counted', 'signed', 'released', 'void')),
    received  date,
    UNIQUE (bundle, position)
);

CREATE TABLE priv.sample (
    id        uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    sender    uuid REFERENCES priv.sender,
    place     int  NOT NULL REFERENCES open.place,
    county    int  NOT NULL REFERENCES open.place,
    season    int  NOT NULL REFERENCES open.season,
    day       date NOT NULL,
    standing  int  NOT NULL CHECK (standing BETWEEN 0 AND 2),
    answers   jsonb NOT NULL DEFAULT '{}',
    source    text NOT NULL DEFAULT 'form' CHECK (source IN ('form', 'slip', 'assumed'))
);
COMMENT ON COLUMN priv.sample.source IS
    'the sender''s form; keyed from the paper slip in the bag; or neither came: the county of its lot is assumed';
COMMENT ON COLUMN priv.sample.standing IS
    'the one tap: 0 bags already sent this fall, or no answer; 1 in an earlier fall too; 2 first bags ever from this farm';
ALTER TABLE priv.bundle ADD FOREIGN KEY (follows) REFERENCES priv.sample;
CREATE UNIQUE INDEX bundle_follows ON priv.bundle (follows) WHERE follows IS NOT NULL;
CREATE INDEX sample_place ON priv.sample (place);
CREATE INDEX sample_county_season ON priv.sample (county, season);
CREATE INDEX sample_sender ON priv.sample (sender);

CREATE TABLE priv.bag_link (
    bag     text PRIMARY KEY REFERENCES priv.bag,
    sample  uuid NOT NULL UNIQUE REFERENCES priv.sample
);

CREATE TABLE priv.result (
    id          uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    sample      uuid NOT NULL REFERENCES priv.sample,
    kind        text NOT NULL CHECK (kind IN ('counted', 'density', 'class')),
    method      int  NOT NULL REFERENCES open.method,
    soil_cm3    double precision CHECK (soil_cm3 > 0),
    suspension_ml double precision CHECK (suspension_ml > 0),
    looked_ml   double precision CHECK (looked_ml > 0),
    eggs        int  CHECK (eggs >= 0),
    density     double precision NOT NULL CHECK (density >= 0 AND density < 'Infinity'),
    low         double precision,
    high        double precision,
    cyst        boolean NOT NULL DEFAULT false,
    juveniles   boolean NOT NULL DEFAULT false,
    day         date NOT NULL,
    supersedes  uuid UNIQUE,
    by_staff    uuid REFERENCES priv.staff,
    -- of a count: its portions, which looked_ml and eggs add up, and where its limits come from
    portion_ml    double precision[],
    portion_eggs  int[],
    limits_by   text CHECK (limits_by IN ('exact_poisson', 'negative_binomial')),
    -- of a reported density: the figure as the lab gave it
    given       double precision CHECK (given >= 0 AND given < 'Infinity'),
    unit        text,
    bulk        double precision CHECK (bulk > 0),
    reason      text CHECK (reason IN ('looked_again', 'washed_again', 'mistyped', 'wrong_amounts', 'wrong_method',
                'wrong_bag', 'cyst_overlook', 'lab_corrected', 'control_failed')),
    CHECK ((supersedes IS NULL) = (reason IS NULL)),
    CHECK (cardinality(portion_ml) = cardinality(portion_eggs) AND cardinality(portion_ml) BETWEEN 1 AND 8),
    UNIQUE (id, sample),
    FOREIGN KEY (supersedes, sample) REFERENCES priv.result (id, sample),
    CHECK (kind <> 'counted' OR (soil_cm3 IS NOT NULL AND suspension_ml IS NOT NULL
           AND looked_ml IS NOT NULL AND eggs IS NOT NULL AND low IS NOT NULL AND high IS NOT NULL))
);
COMMENT ON COLUMN priv.result.density IS 'eggs per 100 cm3 of soil';
COMMENT ON COLUMN priv.result.reason IS 'why it takes the place of the one before; a list, so that it can hold no name';
-- One first result a sample, one successor a result: so there is one head.
CREATE UNIQUE INDEX result_first ON priv.result (sample) WHERE supersedes IS NULL;
CREATE INDEX result_sample ON priv.result (sample);

CREATE VIEW priv.head AS
SELECT r.*
  FROM priv.result r
 WHERE NOT EXISTS (SELECT 1 FROM priv.result n WHERE n.supersedes = r.id);

-- A coordinator signs results in batches. What is not signed reaches nobody:
-- no sender, no map.
CREATE TABLE priv.batch (
    id        uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    day       date NOT NULL,
    by_staff  uuid REFERENCES priv.staff
);
CREATE TABLE priv.signature (
    result  uuid PRIMARY KEY REFERENCES priv.result,
    batch   uuid NOT NULL REFERENCES priv.batch
);
CREATE INDEX signature_batch ON priv.signature (batch);

-- The result that stands, where it is signed. While a correction waits for its
-- signature the sample has none: the old figure is known to be wrong.
CREATE VIEW priv.signed AS
SELECT h.*
  FROM priv.head h
 WHERE EXISTS (SELECT 1 FROM priv.signature g WHERE g.result = h.id);

CREATE TABLE priv.answer_key (
    hash    bytea PRIMARY KEY CHECK (length(hash) = 32),
    sample  uuid NOT NULL REFERENCES priv.sample ON DELETE CASCADE,
    kind    text NOT NULL CHECK (kind IN ('link', 'stub'))
);
CREATE INDEX answer_key_sample ON priv.answer_key (sample);

-- What a visit to the form has stored: a form sent twice is stored once.
CREATE TABLE priv.form_post (
    visit   bytea NOT NULL CHECK (length(visit) = 32),
    part    int   NOT NULL,
    sender  uuid  NOT NULL REFERENCES priv.sender,
    PRIMARY KEY (visit, part)
);
CREATE INDEX form_post_sender ON priv.form_post (sender);

-- Codes that a person has to look at: no bag has it, or two forms claim it.
CREATE TABLE priv.queue_item (
    id       uuid PRIMARY KEY DEFAULT gen_random_uuid(),
    code     text NOT NULL,
    reason   text NOT NULL CHECK (reason IN ('unknown', 'used', 'doubled', 'void')),
    sample   uuid REFERENCES priv.sample ON DELETE SET NULL,
    visit    bytea NOT NULL,
    day      date NOT NULL,
    settled  date
);
CREATE UNIQUE INDEX queue_item_once ON priv.queue_item (visit, code);
CREATE INDEX queue_item_code ON priv.queue_item (code) WHERE settled IS NULL;

-- +goose StatementBegin
CREATE FUNCTION priv.refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is never changed: a correction is a new row', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
-- +goose StatementEnd
CREATE TRIGGER result_immutable BEFORE UPDATE OR DELETE ON priv.result
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER batch_immutable BEFORE UPDATE OR DELETE ON priv.batch
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER signature_immutable BEFORE UPDATE OR DELETE ON priv.signature
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
