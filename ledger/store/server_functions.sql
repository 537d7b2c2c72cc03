-- The functions of a job's schema, as the server itself spells them, so that they can be compared.
-- Names and operators in them are looked for in pg_catalog alone, whoever calls.

CREATE OR REPLACE FUNCTION fitup.only_grows() RETURNS trigger LANGUAGE plpgsql SET search_path TO 'pg_catalog', 'pg_temp' AS $function$ BEGIN
    IF NEW.seq > (SELECT COALESCE(MAX(seq), 0) + 1 FROM fitup.journal) OR NEW.seq < 1 THEN
        RAISE EXCEPTION 'the journal only grows by its next entry';
    END IF;
    RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION fitup.never_changes() RETURNS trigger LANGUAGE plpgsql SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$ BEGIN
    RAISE EXCEPTION 'what is written in % is never changed or removed', TG_TABLE_NAME;
END $function$;

CREATE OR REPLACE FUNCTION fitup.stamp_is_here() RETURNS trigger LANGUAGE plpgsql SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$ BEGIN
    IF NEW.seq <> 0 AND NOT EXISTS (SELECT 1 FROM fitup.journal WHERE seq = NEW.seq AND hash = NEW.seal) THEN
        RAISE EXCEPTION 'facts are stamped with an entry of the journal';
    END IF;
    RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION fitup.add_entry(new_seq integer, new_previous character varying, new_body bytea,
    new_hash character varying, new_signature character varying)
RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path TO 'pg_catalog', 'pg_temp' AS $function$
DECLARE
    last_seq integer := 0;
    last_hash text := repeat('0', 64);
    ident text;
    said jsonb;
    signed bytea;
BEGIN
    SELECT seq, hash INTO last_seq, last_hash FROM fitup.journal ORDER BY seq DESC LIMIT 1;
    IF new_seq IS DISTINCT FROM COALESCE(last_seq, 0) + 1
        OR new_previous IS DISTINCT FROM COALESCE(last_hash, repeat('0', 64)) THEN
        RAISE EXCEPTION 'the journal only grows by its next entry';
    END IF;
    IF new_signature IS NULL OR new_signature !~ '^([0-9a-f]{128})?$' OR octet_length(new_body) > 16777216 THEN
        RAISE EXCEPTION 'this is no entry of a job';
    END IF;
    said := convert_from(new_body, 'UTF8')::jsonb;
    IF jsonb_typeof(said) <> 'object' OR jsonb_typeof(said -> 'act') IS DISTINCT FROM 'object'
        OR (SELECT array_agg(k ORDER BY k) FROM json_object_keys(convert_from(new_body, 'UTF8')::json) k)
            IS DISTINCT FROM ARRAY['act', 'at', 'by', 'job', 'program', 'seq']
        OR jsonb_typeof(said -> 'by') <> 'string' OR jsonb_typeof(said -> 'job') <> 'string'
        OR jsonb_typeof(said -> 'program') <> 'string' OR jsonb_typeof(said -> 'at') <> 'string'
        OR jsonb_typeof(said -> 'act' -> 'kind') IS DISTINCT FROM 'string'
        OR said -> 'seq' IS DISTINCT FROM to_jsonb(new_seq)
        OR said ->> 'at' !~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z$' THEN
        RAISE EXCEPTION 'this is no entry of a job';
    END IF;
    SELECT convert_from(body, 'UTF8')::jsonb ->> 'job' INTO ident FROM fitup.journal WHERE seq = 1;
    IF ident IS NOT NULL AND said ->> 'job' <> ident THEN
        RAISE EXCEPTION 'this is an entry of another job';
    END IF;
    signed := decode(new_signature, 'hex');
    IF new_hash IS DISTINCT FROM encode(sha256(convert_to('fitup/row', 'UTF8') || decode('00', 'hex')
        || int8send(32) || decode(new_previous, 'hex')
        || int8send(octet_length(new_body)::bigint) || new_body
        || int8send(octet_length(signed)::bigint) || signed), 'hex') THEN
        RAISE EXCEPTION 'the hash of an entry is of what it says and what came before it';
    END IF;
    INSERT INTO fitup.journal (seq, previous, body, hash, signature)
        VALUES (new_seq, new_previous, new_body, new_hash, new_signature);
END $function$;

CREATE OR REPLACE FUNCTION fitup.keep_file(new_sha256 character varying, new_data bytea)
RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path TO 'pg_catalog', 'pg_temp' AS $function$ BEGIN
    IF new_sha256 IS DISTINCT FROM encode(sha256(new_data), 'hex') THEN
        RAISE EXCEPTION 'kept bytes are named by their SHA-256';
    END IF;
    INSERT INTO fitup.kept_file (sha256, data) VALUES (new_sha256, new_data);
END $function$;
