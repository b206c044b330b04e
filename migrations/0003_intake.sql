-- The two doors of the public role into the office's schema. Both belong to
-- the intake role (grants.sql): taking a visit's bags, and giving one answer.

-- +goose Up
-- +goose StatementBegin
CREATE FUNCTION priv.root_sender(p uuid) RETURNS uuid LANGUAGE sql STABLE AS $$
    SELECT coalesce(s.merged_into, s.id) FROM priv.sender s WHERE s.id = p
$$;
-- +goose StatementEnd

-- Two senders turn out to be one: the first becomes part of the second.
-- merged_into always points at a root, so a look-up is one step.
-- +goose StatementBegin
CREATE FUNCTION priv.merge_senders(p_from uuid, p_into uuid) RETURNS void LANGUAGE plpgsql AS $$
DECLARE
    v_from uuid := priv.root_sender(p_from);
    v_into uuid := priv.root_sender(p_into);
BEGIN
    IF v_from = v_into THEN
        RETURN;
    END IF;
    UPDATE priv.sender SET merged_into = v_into WHERE merged_into = v_from OR id = v_from;
END $$;
-- +goose StatementEnd

-- One bag of a visit. The answer to the sender is the same whatever happens
-- here: a code that is unknown, used or doubled goes to the office's queue.
-- +goose StatementBegin
CREATE FUNCTION priv.take_bag(p_visit bytea, p_day date, p_sender uuid, p_standing int, p_bag jsonb)
RETURNS void LANGUAGE plpgsql AS $$
DECLARE
    v_code    text := p_bag->>'code';
    v_place   int  := (p_bag->>'place')::int;
    v_county  int;
    v_bag     priv.bag;
    v_sample  uuid;
    v_mine    boolean;
    v_reason  text;
    v_bundle_sender uuid;
    v_assumed boolean := false;
BEGIN
    SELECT coalesce(p.county, p.id) INTO v_county
      FROM open.place p WHERE p.id = v_place AND p.kind IN ('county', 'township');
    IF v_county IS NULL THEN
        RAISE EXCEPTION 'no such place' USING ERRCODE = 'foreign_key_violation';
    END IF;
    SELECT * INTO v_bag FROM priv.bag WHERE code = v_code FOR UPDATE;
    IF v_bag.code IS NULL THEN
        v_reason := 'unknown';
    ELSIF v_bag.state = 'void' THEN
        v_reason := 'void';
    ELSE
        SELECT l.sample, EXISTS (SELECT 1 FROM priv.form_post f WHERE f.visit = p_visit AND f.sender = s.sender),
               s.source = 'assumed' AND NOT EXISTS (SELECT 1 FROM priv.tranche_member m WHERE m.sample = s.id)
          INTO v_sample, v_mine, v_assumed
          FROM priv.bag_link l JOIN priv.sample s ON s.id = l.sample
         WHERE l.bag = v_code;
        IF v_sample IS NOT NULL AND NOT v_mine AND NOT v_assumed THEN
            v_reason := CASE WHEN EXISTS (SELECT 1 FROM priv.result r WHERE r.sample = v_sample)
                             THEN 'used' ELSE 'doubled' END;
            v_sample := NULL;
        END IF;
    END IF;
    IF v_reason IS NOT NULL THEN
        SELECT q.sample INTO v_sample FROM priv.queue_item q WHERE q.visit = p_visit AND q.code = v_code;
    END IF;

    IF v_sample IS NULL THEN
        INSERT INTO priv.sample (sender, place, county, season, day, standing, answers)
        VALUES (p_sender, v_place, v_county, (p_bag->>'season')::int, (p_bag->>'day')::date,
                p_standing, coalesce(p_bag->'answers', '{}'))
        RETURNING id INTO v_sample;
        INSERT INTO priv.answer_key (hash, sample, kind)
        VALUES (decode(p_bag->>'key', 'hex'), v_sample, 'link')
        ON CONFLICT (hash) DO NOTHING;
        IF v_reason IS NOT NULL THEN
            INSERT INTO priv.queue_item (code, reason, sample, visit, day)
            VALUES (v_code, v_reason, v_sample, p_visit, p_day)
            ON CONFLICT (visit, code) DO NOTHING;
            RETURN;
        END IF;
        INSERT INTO priv.bag_link (bag, sample) VALUES (v_code, v_sample);
        UPDATE priv.bag SET state = 'form_in' WHERE code = v_code AND state IN ('issued', 'handed_out');
    ELSIF v_assumed THEN
        -- The form has come after all, before the bag went to a map: it says where from.
        UPDATE priv.sample
           SET sender = p_sender, place = v_place, county = v_county, season = (p_bag->>'season')::int,
               day = (p_bag->>'day')::date, standing = p_standing, answers = coalesce(p_bag->'answers', '{}'), source = 'form'
         WHERE id = v_sample;
        INSERT INTO priv.answer_key (hash, sample, kind)
        VALUES (decode(p_bag->>'key', 'hex'), v_sample, 'link')
        ON CONFLICT (hash) DO NOTHING;
    ELSIF NOT EXISTS (SELECT 1 FROM priv.result r WHERE r.sample = v_sample) THEN
        -- The same visit again, perhaps mended: what it says now counts until the lab has counted.
        UPDATE priv.sample
           SET sender = p_sender, place = v_place, county = v_county, season = (p_bag->>'season')::int,
               day = (p_bag->>'day')::date, standing = p_standing, answers = coalesce(p_bag->'answers', '{}')
         WHERE id = v_sample;
    END IF;
    IF v_reason IS NOT NULL THEN
        RETURN;
    END IF;

    SELECT sender INTO v_bundle_sender FROM priv.bundle WHERE id = v_bag.bundle FOR UPDATE;
    IF v_bundle_sender IS NULL THEN
        UPDATE priv.bundle SET sender = p_sender WHERE id = v_bag.bundle;
    ELSE
        PERFORM priv.merge_senders(p_sender, v_bundle_sender);
    END IF;
END $$;
-- +goose StatementEnd

-- p_senders: [{"standing": 0..2, "bags": [{"code", "place", "season", "day", "answers", "key"}]}]
-- in the order of the form; key is the hex SHA-256 of the answer's secret.
-- +goose StatementBegin
CREATE FUNCTION open.take_visit(p_visit bytea, p_day date, p_senders jsonb)
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
      WHERE code IN (SELECT b->>'code' FROM jsonb_array_elements(p_senders) g, jsonb_array_elements(g->'bags') b)
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

-- One answer. No row: no such secret. A result is given once it is signed. A
-- code that two forms claim gets none until the office has settled it. Changed:
-- a result that was signed before has been corrected; with no new one yet, the
-- correction waits for its signature. Follow: the code of the free bag that an
-- unconfirmed result earns, as long as no form has come for it.
-- +goose StatementBegin
CREATE FUNCTION open.give_answer(p_hash bytea)
RETURNS TABLE (season int, county int, received boolean, held boolean, kind text, method int,
               eggs int, density double precision, low double precision, high double precision, cyst boolean, juveniles boolean,
               limits_by text, changed boolean, follow text)
LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH s AS (
        SELECT s.id, s.season, s.county, b.received IS NOT NULL AS received,
               l.bag IS NULL OR EXISTS (SELECT 1 FROM priv.queue_item q
                                         WHERE q.code = l.bag AND q.settled IS NULL) AS held
          FROM priv.answer_key k
          JOIN priv.sample s ON s.id = k.sample
          LEFT JOIN priv.bag_link l ON l.sample = s.id
          LEFT JOIN priv.bag b ON b.code = l.bag
         WHERE k.hash = p_hash
    )
    SELECT s.season, s.county, s.received, s.held, h.kind, h.method, h.eggs, h.density, h.low, h.high, h.cyst, h.juveniles,
           h.limits_by,
           NOT s.held AND EXISTS (SELECT FROM priv.result r JOIN priv.signature g ON g.result = r.id
                                   WHERE r.sample = s.id AND EXISTS (SELECT FROM priv.result n WHERE n.supersedes = r.id)),
           (SELECT f.code FROM priv.bundle u JOIN priv.bag f ON f.bundle = u.id
             WHERE u.follows = s.id AND h.id IS NOT NULL AND f.state IN ('issued', 'handed_out'))
      FROM s
      LEFT JOIN priv.signed h ON h.sample = s.id AND NOT s.held
$$;
-- +goose StatementEnd
