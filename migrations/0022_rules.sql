-- Release rules stay what they were when an edition went by them.

-- +goose Up

CREATE TRIGGER parameter_set_immutable BEFORE UPDATE OR DELETE ON open.parameter_set
    FOR EACH ROW EXECUTE FUNCTION priv.refuse_change();
