-- 004-release.sql: version 4 of the database.
--
-- What a producer holds may be released for the air, after the signature too.

-- A signed bout takes its reopening, and word on what may go on air: that is no part of the count,
-- and often comes after the signature.
DROP TRIGGER entry_signed;
CREATE TRIGGER entry_signed BEFORE INSERT ON entry
WHEN NOT (new.kind = 'sign' AND new.code = 'reopen') AND new.kind <> 'release' AND
     NOT EXISTS (SELECT 1 FROM uniting)
BEGIN
    SELECT raise(ABORT, 'the record is signed: it takes no entries until it is reopened')
    WHERE (SELECT e.code
           FROM desk AS own JOIN desk AS d ON d.bout = own.bout JOIN entry AS e ON e.desk = d.id
           WHERE own.id = new.desk AND e.kind = 'sign'
           ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1) = 'sign';
END;
