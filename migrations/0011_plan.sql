-- The next season's bags as they were planned, and what bags cost. Nothing here
-- is of a sample: plans are made from released figures, costs from counts of bags.

-- +goose Up

-- A plan as it was saved. It is never changed; of a season's plans the newest stands.
CREATE TABLE priv.plan (
    no        int  GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    season    int  NOT NULL CHECK (season BETWEEN 1950 AND 2201),
    edition   int  NOT NULL REFERENCES open.edition,
    day       date NOT NULL,
    bags      int  NOT NULL CHECK (bags > 0),
    least     int  NOT NULL CHECK (least >= 0),
    back      double precision NOT NULL CHECK (back > 0 AND back <= 1),
    weights   double precision[] NOT NULL,
    asked     boolean NOT NULL,
    total     double precision[] NOT NULL,
    best      double precision[] NOT NULL,
    by_staff  uuid REFERENCES priv.staff
);
COMMENT ON COLUMN priv.plan.edition IS 'whose figures it was made from';
COMMENT ON COLUMN priv.plan.back IS 'the share of bags it takes to come back';
COMMENT ON COLUMN priv.plan.asked IS 'townships are asked for as suggested; false: growers come of themselves';
CREATE INDEX plan_season ON priv.plan (season);

CREATE TABLE priv.plan_lot (
    plan    int NOT NULL REFERENCES priv.plan,
    county  int NOT NULL REFERENCES open.place,
    acres   int NOT NULL CHECK (acres >= 0),
    bags    int NOT NULL CHECK (bags >= 0),
    gains   double precision[] NOT NULL,
    PRIMARY KEY (plan, county)
);
COMMENT ON COLUMN priv.plan_lot.acres IS 'in host crops, as the plan took them';

-- What the plan was given of each township and what it suggested, so that it can
-- be looked back on.
CREATE TABLE priv.plan_place (
    plan    int  NOT NULL REFERENCES priv.plan,
    place   int  NOT NULL REFERENCES open.place,
    acres   int  NOT NULL CHECK (acres >= 0),
    found   boolean NOT NULL,
    find    double precision NOT NULL CHECK (find BETWEEN 0 AND 1),
    weight  double precision NOT NULL,
    bags    int  NOT NULL CHECK (bags >= 0),
    PRIMARY KEY (plan, place)
);
COMMENT ON COLUMN priv.plan_place.find IS 'the chance that the next bag has eggs, where there were no finds';

CREATE TRIGGER plan_immutable BEFORE UPDATE OR DELETE ON priv.plan
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER plan_lot_immutable BEFORE UPDATE OR DELETE ON priv.plan_lot
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER plan_place_immutable BEFORE UPDATE OR DELETE ON priv.plan_place
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
CREATE TRIGGER note_plan AFTER INSERT ON priv.plan
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('plan', 'day', 'season', 'season', 'bags', 'n');

-- In which month the fiscal year begins.
CREATE TABLE priv.fiscal (
    only_one  boolean PRIMARY KEY DEFAULT true CHECK (only_one),
    month     int NOT NULL DEFAULT 7 CHECK (month BETWEEN 1 AND 12)
);
INSERT INTO priv.fiscal DEFAULT VALUES;

-- What a bag costs at each of its steps, from a day on, in whole cents.
CREATE TABLE priv.price (
    from_day  date PRIMARY KEY,
    bag       bigint NOT NULL CHECK (bag BETWEEN 0 AND 10000000000),
    postage   bigint NOT NULL CHECK (postage BETWEEN 0 AND 10000000000),
    fee       bigint NOT NULL CHECK (fee BETWEEN 0 AND 10000000000)
);

-- What a sponsor gives for a fiscal year, in whole cents. A sponsor is a board or
-- a firm: never a grower.
CREATE TABLE priv.budget (
    year     int  NOT NULL CHECK (year BETWEEN 1950 AND 2201),
    sponsor  text NOT NULL CHECK (sponsor <> '' AND length(sponsor) <= 80),
    amount   bigint NOT NULL CHECK (amount BETWEEN 0 AND 10000000000),
    PRIMARY KEY (year, sponsor)
);

CREATE TRIGGER note_price AFTER INSERT OR UPDATE ON priv.price
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('price', '');
CREATE TRIGGER note_budget AFTER INSERT OR UPDATE ON priv.budget
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('budget', '', 'year', 'n');
