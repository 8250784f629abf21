-- The counts that learning starts from, out of the two tables that `faultodds past export` writes. One statement in plain SQL:
-- it runs unchanged in SQLite, DuckDB, PostgreSQL and Spark SQL (bench/engines.py shows how the tables get there).
--   jobs     shop, year, job, make, model, engine, age, codes, state, one, two, shown, repair, minutes, price
--   results  shop, year, job, reading, level
-- Empty cells may be NULL or ''. Columns of the answer: kind, grp, subject, object, level, n. Its rows, in that order and sorted,
-- written as {"schema":"faultodds.counts/1","rows":[[...],...]}, are what `tune --counts` reads.
SELECT 'cause' AS kind, '' AS grp, one AS subject, codes AS object, '' AS level, COUNT(*) AS n
    FROM jobs WHERE state = 'found' GROUP BY one, codes
UNION ALL
SELECT 'group', 'shop:' || shop, one, '', '', COUNT(*)
    FROM jobs WHERE state = 'found' GROUP BY shop, one
UNION ALL
SELECT 'group', 'make:' || make, one, '', '', COUNT(*)
    FROM jobs WHERE state = 'found' AND make <> '' GROUP BY make, one
UNION ALL
SELECT 'group', 'model:' || make || ' ' || model, one, '', '', COUNT(*)
    FROM jobs WHERE state = 'found' AND make <> '' AND model <> '' GROUP BY make, model, one
UNION ALL
SELECT 'group', 'engine:' || engine, one, '', '', COUNT(*)
    FROM jobs WHERE state = 'found' AND engine <> '' GROUP BY engine, one
UNION ALL
SELECT 'group', 'age:' || age, one, '', '', COUNT(*)
    FROM jobs WHERE state = 'found' AND age <> '' GROUP BY age, one
UNION ALL
SELECT 'reading', '', jobs.one, results.reading, results.level, COUNT(*)
    FROM jobs JOIN results ON results.shop = jobs.shop AND results.job = jobs.job
    WHERE jobs.state = 'found' GROUP BY jobs.one, results.reading, results.level
UNION ALL
SELECT 'pair', '', one, two, '', COUNT(*)
    FROM jobs WHERE state = 'pair' GROUP BY one, two
UNION ALL
SELECT 'unsure', '', COALESCE(one, ''), codes, COALESCE(shown, ''), COUNT(*)
    FROM jobs WHERE state = 'unsure' GROUP BY COALESCE(one, ''), codes, COALESCE(shown, '')
UNION ALL
SELECT 'no-fault', '', '', codes, '', COUNT(*)
    FROM jobs WHERE state = 'no-fault' GROUP BY codes
UNION ALL
SELECT 'minutes', '', repair, '', '' || minutes, COUNT(*)
    FROM jobs WHERE repair <> '' AND minutes IS NOT NULL GROUP BY repair, minutes
UNION ALL
SELECT 'price', '', repair, '', '' || price, COUNT(*)
    FROM jobs WHERE repair <> '' AND price IS NOT NULL GROUP BY repair, price
