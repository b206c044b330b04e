-- A visit finds its bags by their codes. Asked with IN (SELECT …) the planner took
-- ten thousand codes to come and read through all bags there are, for every form.

-- +goose Up
-- +goose StatementBegin
CREATE OR REPLACE FUNCTION open.take_visit(p_visit bytea, p_day date, p_senders jsonb)
RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    v_part    int := 0;
    v_sender  uuid;
    v_group   jsonb;
    v_bag     jsonb;
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended(encode(p_visit, 'hex'), 0));
    -- Lock all bags in one order, so that two visits with the same bags never wait for each other.
    PERFORM 1 FROM priv.bag
      WHERE code = ANY (ARRAY(SELECT b->>'code' FROM jsonb_array_elements(p_senders) g, jsonb_array_elements(g->'bags') b))
      ORDER BY code FOR UPDATE;
    FOR v_group IN SELECT value FROM jsonb_array_elements(p_senders) LOOP
        v_part := v_part + 1;
        SELECT sender INTO v_sender FROM priv.form_post WHERE visit = p_visit AND part = v_part;
        IF v_sender IS NULL THEN
            v_sender := gen_random_uuid();
            INSERT INTO priv.sender (id) VALUES (v_sender);
            INSERT INTO priv.form_post (visit, part, sender) VALUES (p_visit, v_part, v_sender);
        END IF;
        FOR v_bag IN SELECT value FROM jsonb_array_elements(v_group->'bags') LOOP
            PERFORM priv.take_bag(p_visit, p_day, v_sender, (v_group->>'standing')::int, v_bag);
        END LOOP;
    END LOOP;
END $$;
-- +goose StatementEnd
