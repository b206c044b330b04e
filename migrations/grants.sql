-- Who may do what, whole, in one place. Applied after every migration, as often
-- as one likes: it takes everything away first. {owner} owns all; {intake} owns
-- the three doors and never logs in; {staff} is the office's; {public} serves pages.

REVOKE ALL ON SCHEMA open, priv FROM PUBLIC, {intake}, {staff}, {public};
REVOKE ALL ON ALL TABLES IN SCHEMA open, priv FROM PUBLIC, {intake}, {staff}, {public};
REVOKE ALL ON ALL FUNCTIONS IN SCHEMA open, priv FROM PUBLIC, {intake}, {staff}, {public};

-- The public: reads schema open, knocks at three doors.
GRANT USAGE ON SCHEMA open TO {public};
GRANT SELECT ON ALL TABLES IN SCHEMA open TO {public};
GRANT EXECUTE ON FUNCTION open.take_visit(bytea, date, jsonb), open.give_answer(bytea), open.give_stub_answer(text, bigint, date),
                open.scheme_in_force() TO {public};

-- Intake: what the three doors need, and no more.
GRANT USAGE ON SCHEMA open, priv TO {intake};
GRANT SELECT ON open.place, open.season TO {intake};
GRANT SELECT ON priv.signed, priv.result, priv.signature, priv.bag, priv.bundle, priv.bag_link, priv.sample, priv.sender,
                priv.answer_key, priv.form_post, priv.queue_item, priv.tranche_member TO {intake};
GRANT INSERT ON priv.sender, priv.sample, priv.bag_link, priv.answer_key, priv.form_post, priv.queue_item TO {intake};
GRANT UPDATE (merged_into) ON priv.sender TO {intake};
GRANT UPDATE (state) ON priv.bag TO {intake};
GRANT UPDATE (sender) ON priv.bundle TO {intake};
GRANT UPDATE (sender, place, county, season, day, standing, answers, source) ON priv.sample TO {intake};
GRANT EXECUTE ON FUNCTION priv.root_sender(uuid), priv.merge_senders(uuid, uuid),
                priv.take_bag(bytea, date, uuid, int, jsonb) TO {intake};
GRANT SELECT ON priv.stub_key, priv.stub_try TO {intake};
GRANT INSERT, UPDATE ON priv.stub_try TO {intake};
GRANT EXECUTE ON FUNCTION priv.stub_bits(text), open.give_answer(bytea) TO {intake};
-- A function's new owner must be able to create in its schema, for this moment only.
GRANT CREATE ON SCHEMA open TO {intake};
ALTER FUNCTION open.take_visit(bytea, date, jsonb) OWNER TO {intake};
ALTER FUNCTION open.give_answer(bytea) OWNER TO {intake};
ALTER FUNCTION open.give_stub_answer(text, bigint, date) OWNER TO {intake};
REVOKE CREATE ON SCHEMA open FROM {intake};

-- Staff: reads all, adds everywhere, changes only what has a state. Results,
-- editions and tranches are added and never changed.
GRANT USAGE ON SCHEMA open, priv TO {staff};
GRANT SELECT ON ALL TABLES IN SCHEMA open, priv TO {staff};
GRANT INSERT ON ALL TABLES IN SCHEMA open, priv TO {staff};
GRANT USAGE ON ALL SEQUENCES IN SCHEMA open TO {staff};
GRANT EXECUTE ON ALL FUNCTIONS IN SCHEMA open, priv TO {staff};
GRANT UPDATE ON open.program, open.season, open.office, priv.staff, priv.session TO {staff};
GRANT DELETE ON open.office, open.layer, priv.session, priv.staff_county, priv.stage TO {staff};
GRANT UPDATE (code, name, slug) ON open.place TO {staff};
GRANT UPDATE (title, position, kind) ON open.layer TO {staff};
GRANT UPDATE (state, received) ON priv.bag TO {staff};
GRANT UPDATE (sender) ON priv.bundle TO {staff};
GRANT UPDATE (merged_into) ON priv.sender TO {staff};
GRANT UPDATE (sender) ON priv.sample TO {staff};
GRANT UPDATE (settled) ON priv.queue_item TO {staff};

-- People. The trail is written through priv.note and the notes beside changes,
-- and never changed.
REVOKE INSERT ON priv.trail FROM {staff};
GRANT UPDATE ON priv.link, priv.house TO {staff};
GRANT DELETE ON priv.link, priv.recovery, priv.staff_address TO {staff};
GRANT UPDATE ON priv.staff_address, priv.reset TO {staff};

-- The lab. A form's bag may turn out to be another's: the link is laid anew.
GRANT UPDATE (condition) ON priv.bag TO {staff};
GRANT UPDATE (source) ON priv.sample TO {staff};
GRANT UPDATE ON priv.tray_plan, priv.mail, priv.upload_memory TO {staff};
GRANT UPDATE (settled, fate) ON priv.stray TO {staff};
GRANT UPDATE (sample) ON priv.bag_link TO {staff};

-- Money: prices, budgets and the fiscal year are the office's to set right.
GRANT UPDATE ON priv.price, priv.budget, priv.fiscal TO {staff};
GRANT DELETE ON priv.price, priv.budget TO {staff};

-- The years before. What methods stand behind an edition follows from its results.
GRANT UPDATE ON priv.past_memory TO {staff};
REVOKE INSERT ON open.edition_method FROM {staff};
