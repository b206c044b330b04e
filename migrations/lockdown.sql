-- Applied once a database by its administrator: the server's own catalogs tell
-- any role how many rows a table has. Here they tell it to nobody but owners.

DO $$
DECLARE
    f record;
    v record;
    c text;
BEGIN
    FOR f IN
        SELECT p.oid::regprocedure AS sig
          FROM pg_proc p
         WHERE p.pronamespace = 'pg_catalog'::regnamespace
           AND (p.proname LIKE 'pg\_stat\_get\_%'
                OR p.proname IN ('pg_relation_size', 'pg_table_size', 'pg_total_relation_size', 'pg_indexes_size',
                                 'pg_database_size', 'pg_tablespace_size', 'pg_relation_filenode',
                                 'pg_sequence_last_value'))
    LOOP
        EXECUTE format('REVOKE EXECUTE ON FUNCTION %s FROM PUBLIC', f.sig);
    END LOOP;
    FOR v IN
        SELECT c.oid::regclass AS name
          FROM pg_class c
         WHERE c.relnamespace = 'pg_catalog'::regnamespace AND c.relkind = 'v'
           AND (c.relname LIKE 'pg\_stat%' OR c.relname = 'pg_stats')
    LOOP
        EXECUTE format('REVOKE ALL ON %s FROM PUBLIC', v.name);
    END LOOP;
    -- pg_class without its row and page counts.
    SELECT string_agg(quote_ident(attname), ', ') INTO c
      FROM pg_attribute
     WHERE attrelid = 'pg_class'::regclass AND attnum > 0 AND NOT attisdropped
       AND attname NOT IN ('reltuples', 'relpages', 'relallvisible', 'relfilenode');
    REVOKE ALL ON pg_class FROM PUBLIC;
    EXECUTE format('GRANT SELECT (%s) ON pg_class TO PUBLIC', c);
END $$;
