-- The counts that `past counts` makes, from the table `past` of the store of past jobs, for any SQL engine:
-- kind, group, subject, object, level, n. Written as {"schema": "faultodds.counts/1", "rows": [[...], ...]} they are
-- what `tune --counts` reads. Jobs that are held or left out do not count.
-- Make, model and engine are compared in lower case; age bands are those of the published shares of leaking cars.
SELECT 'cause' AS kind, '' AS "group", cause AS subject, codes AS object, '' AS level, COUNT(*) AS n
    FROM past WHERE state = 'found' GROUP BY cause, codes
UNION ALL
SELECT 'group', 'make:' || LOWER(TRIM(make)), cause, '', '', COUNT(*)
    FROM past WHERE state = 'found' AND make IS NOT NULL GROUP BY LOWER(TRIM(make)), cause
UNION ALL
SELECT 'group', 'model:' || LOWER(TRIM(make)) || ' ' || LOWER(TRIM(model)), cause, '', '', COUNT(*)
    FROM past WHERE state = 'found' AND make IS NOT NULL AND model IS NOT NULL
    GROUP BY LOWER(TRIM(make)), LOWER(TRIM(model)), cause
UNION ALL
SELECT 'group', 'engine:' || LOWER(TRIM(engine)), cause, '', '', COUNT(*)
    FROM past WHERE state = 'found' AND engine IS NOT NULL GROUP BY LOWER(TRIM(engine)), cause
UNION ALL
SELECT 'group', 'age:' || band, cause, '', '', COUNT(*)
    FROM (SELECT cause, CASE WHEN age < 4 THEN '0-3' WHEN age < 6 THEN '4-5' WHEN age < 8 THEN '6-7'
        WHEN age < 10 THEN '8-9' WHEN age < 15 THEN '10-14' WHEN age < 20 THEN '15-19' ELSE '20+' END AS band
        FROM past WHERE state = 'found' AND age IS NOT NULL) AS banded
    GROUP BY band, cause
UNION ALL
SELECT 'reading', '', cause, reading, level, COUNT(*)
    FROM past JOIN past_result ON past_result.key = past.key WHERE state = 'found' GROUP BY cause, reading, level
UNION ALL
-- Two causes at once, as they are joined by ' + '; a third one is not counted.
SELECT 'pair', '', CASE WHEN one < two THEN one ELSE two END, CASE WHEN one < two THEN two ELSE one END, '', COUNT(*)
    FROM (SELECT SUBSTR(cause, 1, INSTR(cause, ' + ') - 1) AS one, SUBSTR(cause, INSTR(cause, ' + ') + 3) AS two
        FROM past WHERE state = 'several') AS paired
    WHERE INSTR(two, ' + ') = 0
    GROUP BY CASE WHEN one < two THEN one ELSE two END, CASE WHEN one < two THEN two ELSE one END
UNION ALL
-- Candidates with beliefs, and results one a line.
SELECT 'unsure', '', cause, codes, shown, COUNT(*)
    FROM (SELECT cause, codes, COALESCE((SELECT GROUP_CONCAT(reading || '=' || level, CHAR(10))
        FROM (SELECT reading, level FROM past_result WHERE past_result.key = past.key ORDER BY reading) AS ordered), '')
        AS shown FROM past WHERE state = 'unsure') AS seen
    GROUP BY cause, codes, shown
UNION ALL
SELECT 'no-fault', '', '', codes, '', COUNT(*) FROM past WHERE state = 'no-fault' GROUP BY codes;

-- Minutes and prices of repairs by bins of 2 %: ROUND(LN(amount) / 0.02). Needs an engine that has LN.
SELECT 'minutes', '', repair, '', CAST(ROUND(LN(MAX(repair_minutes, 0.01)) / 0.02) AS INTEGER), COUNT(*)
    FROM past WHERE state NOT IN ('held', 'left-out') AND repair IS NOT NULL AND repair_minutes IS NOT NULL
    GROUP BY 3, 5
UNION ALL
SELECT 'price', '', repair, '', CAST(ROUND(LN(MAX(parts, 0.01)) / 0.02) AS INTEGER), COUNT(*)
    FROM past WHERE state NOT IN ('held', 'left-out') AND repair IS NOT NULL AND parts IS NOT NULL
    GROUP BY 3, 5;
