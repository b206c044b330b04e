-- What rotations are looked ahead with. A set is never changed: a change is the
-- next version of its name, and the set added last is in force.

-- +goose Up
CREATE TABLE open.outlook_set (
    id       int   GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    name     text  NOT NULL CHECK (name ~ '^[a-z][a-z0-9-]{0,39}$'),
    version  int   NOT NULL CHECK (version > 0),
    note     text  NOT NULL CHECK (length(note) <= 400),
    figures  jsonb NOT NULL CHECK (jsonb_typeof(figures) = 'object' AND pg_column_size(figures) < 65536),
    added    date  NOT NULL,
    UNIQUE (name, version)
);
COMMENT ON COLUMN open.outlook_set.figures IS 'by key: low, mean, high and source; what each means stands in internal/lookahead';

CREATE TRIGGER note_outlook AFTER INSERT ON open.outlook_set
    FOR EACH ROW EXECUTE FUNCTION priv.note_change('outlook', 'added', 'version', 'n');
