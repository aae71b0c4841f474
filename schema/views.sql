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

-- Strikes, incidents and views as they now stand, one row each that is not voided. `now` is the newest among
-- the entry that added it and the corrections that take effect: its own desk's, and those of the
-- desk that was official both for the corner it was entered for and for the corner they speak of. It
-- is official where its desk was official for its corner when it was added.
CREATE VIEW standing AS
SELECT desk.bout AS bout_id, bout.name AS bout, own.kind, now.code, now.round, now.elapsed_ms,
       now.corner, now.limb, now.target, now.stance, now.position, now.outcome, now.spinning,
       now.jumping, now.knockdown, now.review, now.off_clock, now.unsure, desk.uid AS desk,
       desk.name AS desk_name, own.seq, now.at_ms, now.value, own.utc_ms,
       ifnull(ifnull(desk.continues, desk.id) =
              (SELECT root FROM official_desk AS o
               WHERE o.bout = desk.bout AND o.what = now.corner AND
                     (o.utc_ms, o.uid, o.seq) < (own.utc_ms, desk.uid, own.seq)
               ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1), 0) AS official
FROM bout
JOIN desk ON desk.bout = bout.id
JOIN entry AS own ON own.desk = desk.id AND own.kind IN ('strike', 'incident', 'view') AND own.act = 'add'
JOIN entry AS now ON (now.desk, now.seq) =
     (SELECT e.desk, e.seq
      FROM entry AS e JOIN desk AS d ON d.id = e.desk
      WHERE (e.desk = own.desk AND e.seq = own.seq) OR
            (e.subject_desk = own.desk AND e.subject_seq = own.seq AND e.kind = own.kind AND
             (ifnull(d.continues, d.id) = ifnull(desk.continues, desk.id) OR
              (ifnull(d.continues, d.id) =
               (SELECT root FROM official_desk AS o
                WHERE o.bout = desk.bout AND o.what = e.corner AND
                      (o.utc_ms, o.uid, o.seq) < (e.utc_ms, d.uid, e.seq)
                ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1) AND
               ifnull(d.continues, d.id) =
               (SELECT root FROM official_desk AS o
                WHERE o.bout = desk.bout AND o.what = own.corner AND
                      (o.utc_ms, o.uid, o.seq) < (e.utc_ms, d.uid, e.seq)
                ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1))))
      ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1)
WHERE now.act <> 'void';

CREATE VIEW strike AS
SELECT bout, round, elapsed_ms, corner, limb, target, stance, position, outcome, spinning, jumping,
       knockdown, review, off_clock, unsure, desk, desk_name, seq, at_ms, official
FROM standing
WHERE kind = 'strike';

CREATE VIEW incident AS
SELECT bout, round, elapsed_ms, corner, code, review, desk, desk_name, seq, at_ms, official
FROM standing
WHERE kind = 'incident';

-- Knockdowns as events, `corner` = who scored it: a strike's mark; and where the other corner was
-- entered as knocked down with neither a marked strike nor an earlier such entry within ten seconds
-- in that round, that entry.
CREATE VIEW knockdown AS
SELECT bout, round, corner, at_ms FROM strike WHERE official AND knockdown
UNION ALL
SELECT i.bout, i.round, iif(i.corner = 'red', 'blue', 'red'), i.at_ms
FROM standing AS i
WHERE i.kind = 'incident' AND i.official AND i.code = 'knocked_down' AND
      NOT EXISTS (SELECT 1 FROM strike AS s
                  WHERE s.bout = i.bout AND s.official AND s.knockdown AND s.round = i.round AND
                        s.corner <> i.corner AND abs(s.at_ms - i.at_ms) <= 10000) AND
      NOT EXISTS (SELECT 1 FROM standing AS e
                  WHERE e.bout_id = i.bout_id AND e.kind = 'incident' AND e.official AND
                        e.code = 'knocked_down' AND e.round = i.round AND e.corner = i.corner AND
                        abs(e.at_ms - i.at_ms) <= 10000 AND
                        (e.at_ms, e.utc_ms, e.desk, e.seq) < (i.at_ms, i.utc_ms, i.desk, i.seq));

-- Time in which the tagger's view of a corner was blocked: from an entry that says so until the next
-- strike of that corner (but for one put in afterwards) or the next word on the view; NULL: none yet.
CREATE VIEW view_blocked AS
SELECT h.bout, h.corner, h.round, h.elapsed_ms AS from_ms, e.round AS until_round,
       e.elapsed_ms AS until_ms
FROM standing AS h LEFT JOIN standing AS e ON (e.desk, e.seq) =
     (SELECT n.desk, n.seq
      FROM standing AS n
      WHERE n.bout_id = h.bout_id AND n.official AND n.corner = h.corner AND
            (n.kind = 'view' OR (n.kind = 'strike' AND n.value = 0)) AND
            (n.utc_ms, n.desk, n.seq) > (h.utc_ms, h.desk, h.seq)
      ORDER BY n.utc_ms, n.desk, n.seq LIMIT 1)
WHERE h.kind = 'view' AND h.code = 'hidden' AND h.official;

-- What counts, by round and corner.
CREATE VIEW round_total AS
SELECT bout, round, corner, count(*) AS attempted, sum(outcome = 'landed') AS landed,
       sum(outcome = 'blocked') AS blocked, sum(unsure) AS unsure,
       (SELECT count(*) FROM knockdown AS k
        WHERE k.bout = strike.bout AND k.round = strike.round AND k.corner = strike.corner)
       AS knockdowns
FROM strike
WHERE official
GROUP BY bout, round, corner;
