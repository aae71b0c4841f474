-- views.sql: what any SQLite tool needs to count as the program counts.
--
-- Derived, so never migrated: where a view in the database differs from its text here it is made
-- anew. A text ends at the first semicolon. Order of entries is everywhere (utc_ms, desk's uid,
-- seq), and desks of one chain (desk.continues) count as one.

-- Which desk was made official for what (red, blue, clock), and when. The newest row that is not
-- later than a moment says who was official then.
CREATE VIEW official_desk AS
SELECT desk.bout, entry.code AS what, ifnull(desk.continues, desk.id) AS root, entry.utc_ms,
       desk.uid, entry.seq
FROM entry JOIN desk ON desk.id = entry.desk
WHERE entry.kind = 'official';

-- The strikes as they now stand, one row a strike that is not voided. `now` is the newest among the
-- entry that added it and the corrections that take effect: its own desk's, and those of the desk
-- that was official for the corner they speak of. A strike is official where its desk was official
-- for its corner when it was added.
CREATE VIEW strike AS
SELECT bout.name AS bout, now.round, now.elapsed_ms, now.corner, now.limb, now.target, now.stance,
       now.position, now.outcome, now.spinning, now.jumping, now.knockdown, now.review,
       now.off_clock, desk.uid AS desk, desk.name AS desk_name, own.seq, now.at_ms,
       ifnull(ifnull(desk.continues, desk.id) =
              (SELECT root FROM official_desk AS o
               WHERE o.bout = desk.bout AND o.what = now.corner AND
                     (o.utc_ms, o.uid, o.seq) < (own.utc_ms, desk.uid, own.seq)
               ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1), 0) AS official
FROM bout
JOIN desk ON desk.bout = bout.id
JOIN entry AS own ON own.desk = desk.id AND own.kind = 'strike' AND own.act = 'add'
JOIN entry AS now ON (now.desk, now.seq) =
     (SELECT e.desk, e.seq
      FROM entry AS e JOIN desk AS d ON d.id = e.desk
      WHERE (e.desk = own.desk AND e.seq = own.seq) OR
            (e.subject_desk = own.desk AND e.subject_seq = own.seq AND e.kind = 'strike' AND
             ifnull(d.continues, d.id) IN
             (ifnull(desk.continues, desk.id),
              (SELECT root FROM official_desk AS o
               WHERE o.bout = desk.bout AND o.what = e.corner AND
                     (o.utc_ms, o.uid, o.seq) < (e.utc_ms, d.uid, e.seq)
               ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1)))
      ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1)
WHERE now.act <> 'void';

-- What counts, by round and corner.
CREATE VIEW round_total AS
SELECT bout, round, corner, count(*) AS attempted, sum(outcome = 'landed') AS landed,
       sum(outcome = 'blocked') AS blocked, sum(knockdown) AS knockdowns
FROM strike
WHERE official
GROUP BY bout, round, corner;
