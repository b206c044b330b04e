-- The stub's words: with a bag's code they open its answer, where the link is lost
-- or the form came on paper. They are made from the code and this key, so that a
-- sheet printed again has the same words and nothing about them is stored a bag.

-- +goose Up
CREATE TABLE priv.stub_key (
    one  boolean PRIMARY KEY DEFAULT true CHECK (one),
    key  bytea NOT NULL CHECK (length(key) = 32)
);
-- Three random uuids have 366 random bits.
INSERT INTO priv.stub_key (key)
VALUES (sha256(uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid()) || uuid_send(gen_random_uuid())));

-- How often a code was tried today. Codes share 65,536 buckets, so that codes that
-- nobody has are counted like the others, and no code is stored for being tried.
CREATE TABLE priv.stub_try (
    bucket  int  PRIMARY KEY CHECK (bucket BETWEEN 0 AND 65535),
    day     date NOT NULL,
    tries   int  NOT NULL CHECK (tries >= 0)
);

-- 44 bits of a code's words.
-- +goose StatementBegin
CREATE FUNCTION priv.stub_bits(p_code text) RETURNS bigint
LANGUAGE sql STABLE SET search_path = pg_catalog, pg_temp AS $$
    SELECT ('x' || left(encode(sha256(k.key || convert_to(p_code, 'UTF8')), 'hex'), 11))::bit(44)::bigint FROM priv.stub_key k
$$;
-- +goose StatementEnd

-- The answer to a stub. No row: other words than the code has, a code that nobody
-- has, a bag whose form has not come or whose fall is unlinked, or more than ten
-- tries today. All of them do the same work: a bag is looked for only once its
-- words are right. A right try is taken back out of the count.
-- +goose StatementBegin
CREATE FUNCTION open.give_stub_answer(p_code text, p_words bigint, p_day date)
RETURNS TABLE (season int, county int, received boolean, held boolean, kind text, method int,
               eggs int, density double precision, low double precision, high double precision, cyst boolean, juveniles boolean,
               limits_by text, changed boolean, follow text)
LANGUAGE plpgsql VOLATILE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
#variable_conflict use_column
DECLARE
    v_in     bytea := sha256(convert_to(p_code, 'UTF8'));
    v_bucket int   := get_byte(v_in, 0) * 256 + get_byte(v_in, 1);
    v_tries  int;
    v_sample uuid;
    v_hash   bytea;
BEGIN
    INSERT INTO priv.stub_try AS t (bucket, day, tries) VALUES (v_bucket, p_day, 1)
    ON CONFLICT (bucket) DO UPDATE
       SET tries = CASE WHEN t.day = excluded.day THEN least(t.tries, 1000) + 1 ELSE 1 END, day = excluded.day
    RETURNING t.tries INTO v_tries;
    IF priv.stub_bits(p_code) IS DISTINCT FROM p_words OR v_tries > 10 THEN
        RETURN;
    END IF;
    UPDATE priv.stub_try SET tries = tries - 1 WHERE bucket = v_bucket AND tries > 0;
    SELECT l.sample INTO v_sample FROM priv.bag_link l WHERE l.bag = p_code;
    IF v_sample IS NULL THEN
        RETURN;
    END IF;
    SELECT sha256(k.key || uuid_send(v_sample)) INTO v_hash FROM priv.stub_key k;
    INSERT INTO priv.answer_key (hash, sample, kind) VALUES (v_hash, v_sample, 'stub') ON CONFLICT (hash) DO NOTHING;
    RETURN QUERY SELECT * FROM open.give_answer(v_hash);
END $$;
-- +goose StatementEnd
