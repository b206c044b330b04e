-- Room on the pages of bags.

-- +goose Up

-- A bag's state changes six times from issued to released, and no index has it. With
-- room beside it the new row stays on its page and no index is touched: a release
-- changes every bag that goes out.
ALTER TABLE priv.bag SET (fillfactor = 50);
