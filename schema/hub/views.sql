-- views.sql: the views of schema/views.sql, with the same names, columns and rows, over the hub.
--
-- Derived: `ringtally hub init` makes them anew. Each bout's rows are reached through the bout, so that
-- one part of `entry` is touched; else the texts are the same, and a test holds both against each
-- other.

CREATE VIEW official_desk WITH (security_invoker = true) AS
SELECT desk.bout, entry.code AS what, coalesce(desk.continues, desk.id) AS root, entry.utc_ms,
       desk.uid, entry.seq
FROM entry JOIN desk ON desk.bout = entry.bout AND desk.id = entry.desk
WHERE entry.kind = 'official';

CREATE VIEW standing WITH (security_invoker = true) AS
SELECT desk.bout AS bout_id, bout.name AS bout, own.kind, now.code, now.round, now.elapsed_ms,
       now.corner, now.limb, now.target, now.stance, now.position, now.outcome, now.spinning,
       now.jumping, now.knockdown, now.review, now.off_clock, now.unsure, desk.uid AS desk,
       desk.name AS desk_name, own.seq, now.at_ms, now.value, own.utc_ms,
       coalesce(coalesce(desk.continues, desk.id) =
                (SELECT root FROM official_desk AS o
                 WHERE o.bout = desk.bout AND o.what = now.corner AND
                       (o.utc_ms, o.uid, o.seq) < (own.utc_ms, desk.uid, own.seq)
                 ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1), false) AS official
FROM bout
JOIN desk ON desk.bout = bout.id
JOIN entry AS own ON own.bout = bout.id AND own.desk = desk.id AND
                     own.kind IN ('strike', 'incident', 'view') AND own.act = 'add'
CROSS JOIN LATERAL
     (SELECT e.*
      FROM entry AS e JOIN desk AS d ON d.id = e.desk
      WHERE e.bout = own.bout AND
            ((e.desk = own.desk AND e.seq = own.seq) OR
             (e.subject_desk = own.desk AND e.subject_seq = own.seq AND e.kind = own.kind AND
              (coalesce(d.continues, d.id) = coalesce(desk.continues, desk.id) OR
               (coalesce(d.continues, d.id) =
                (SELECT root FROM official_desk AS o
                 WHERE o.bout = desk.bout AND o.what = e.corner AND
                       (o.utc_ms, o.uid, o.seq) < (e.utc_ms, d.uid, e.seq)
                 ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1) AND
                coalesce(d.continues, d.id) =
                (SELECT root FROM official_desk AS o
                 WHERE o.bout = desk.bout AND o.what = own.corner AND
                       (o.utc_ms, o.uid, o.seq) < (e.utc_ms, d.uid, e.seq)
                 ORDER BY o.utc_ms DESC, o.uid DESC, o.seq DESC LIMIT 1)))))
      ORDER BY e.utc_ms DESC, d.uid DESC, e.seq DESC LIMIT 1) AS now
WHERE now.act <> 'void';

CREATE VIEW strike WITH (security_invoker = true) AS
SELECT bout, round, elapsed_ms, corner, limb, target, stance, position, outcome, spinning, jumping,
       knockdown, review, off_clock, unsure, desk, desk_name, seq, at_ms, official
FROM standing
WHERE kind = 'strike';

CREATE VIEW incident WITH (security_invoker = true) AS
SELECT bout, round, elapsed_ms, corner, code, review, desk, desk_name, seq, at_ms, official
FROM standing
WHERE kind = 'incident';

CREATE VIEW knockdown WITH (security_invoker = true) AS
SELECT bout, round, corner, at_ms FROM strike WHERE official AND knockdown
UNION ALL
SELECT i.bout, i.round, CASE i.corner WHEN 'red' THEN 'blue' ELSE 'red' END, i.at_ms
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

CREATE VIEW view_blocked WITH (security_invoker = true) AS
SELECT h.bout, h.corner, h.round, h.elapsed_ms AS from_ms, e.round AS until_round,
       e.elapsed_ms AS until_ms
FROM standing AS h LEFT JOIN LATERAL
     (SELECT n.round, n.elapsed_ms
      FROM standing AS n
      WHERE n.bout_id = h.bout_id AND n.official AND n.corner = h.corner AND
            (n.kind = 'view' OR (n.kind = 'strike' AND n.value = 0)) AND
            (n.utc_ms, n.desk, n.seq) > (h.utc_ms, h.desk, h.seq)
      ORDER BY n.utc_ms, n.desk, n.seq LIMIT 1) AS e ON true
WHERE h.kind = 'view' AND h.code = 'hidden' AND h.official;

-- Summed a bout at a time, so that a question about some bouts, by whatever names them, does not sum
-- the others first.
CREATE VIEW round_total WITH (security_invoker = true) AS
SELECT bout.name AS bout, total.round, total.corner, total.attempted, total.landed, total.blocked,
       total.unsure, total.knockdowns
FROM bout CROSS JOIN LATERAL
     (SELECT round, corner, count(*) AS attempted,
             count(*) FILTER (WHERE outcome = 'landed') AS landed,
             count(*) FILTER (WHERE outcome = 'blocked') AS blocked,
             count(*) FILTER (WHERE unsure) AS unsure,
             (SELECT count(*) FROM knockdown AS k
              WHERE k.bout = bout.name AND k.round = strike.round AND k.corner = strike.corner)
             AS knockdowns
      FROM strike
      WHERE official AND strike.bout = bout.name
      GROUP BY round, corner) AS total;

GRANT SELECT ON official_desk, standing, strike, incident, knockdown, view_blocked, round_total
    TO ringtally_desk, ringtally_reader;
