-- Where mail reaches a member of staff, and the links to a new password that are
-- sent there.

-- +goose Up

-- Only while the server has mail to send, and only who gave one. It is the
-- staff's, never a sender's.
CREATE TABLE priv.staff_address (
    staff    uuid PRIMARY KEY REFERENCES priv.staff,
    address  text NOT NULL CHECK (length(address) BETWEEN 6 AND 254 AND address !~ '[[:cntrl:][:space:]<>,;"]')
);

-- One link a person at a time, for half an hour. The row stays when its link has
-- been used: it knows how many were sent today.
CREATE TABLE priv.reset (
    staff  uuid PRIMARY KEY REFERENCES priv.staff,
    hash   bytea UNIQUE CHECK (length(hash) = 32),
    until  timestamptz NOT NULL,
    day    date NOT NULL,
    sent   int NOT NULL CHECK (sent > 0)
);
COMMENT ON COLUMN priv.reset.hash IS 'null: used, or ended by another way to a password';
