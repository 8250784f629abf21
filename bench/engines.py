#!/usr/bin/env python3
"""Counts past jobs in SQL engines with the statement that `faultodds past counts --sql` prints, and says whether each counts what the
program counts, to the byte.

    faultodds past export /tmp/tables --as two-bays
    faultodds past counts --past-only --least 1 --as two-bays > /tmp/counts.json
    faultodds past counts --sql > /tmp/counts.sql
    bench/engines.py duckdb /tmp/tables /tmp/counts.sql /tmp/counts.json

Engines and what each needs:
    sqlite      nothing: it comes with Python
    duckdb      pip install duckdb
    postgresql  a server: `initdb` and `pg_ctl` on the path or under /usr/lib/postgresql (Debian: apt-get install postgresql)
    spark       pip install pyspark, and Java

Ends with 0 if the counts are the same, 1 if they differ, 77 if the engine is not installed (its reason is printed).

A thousand shops, ten million jobs, in DuckDB on one machine:
    bench/engines.py large /tmp/tables /tmp/counts.sql /tmp/faultodds [SHOPS] [JOBS]
draws jobs of invented shops out of the exported ones, each shop with its own mix, writes them as Parquet by shop and year, counts
them, lumps what is rare with the program and lets it learn; prints seconds and peak memory of each.
"""

import csv
import functools
import json
import os
import pathlib
import pwd
import resource
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time

MISSING = 77
print = functools.partial(print, flush=True)
KINDS = ["cause", "group", "reading", "pair", "unsure", "no-fault", "minutes", "price"]
COLUMNS = {
    "jobs": ["job", "make", "model", "engine", "age", "codes", "state", "one", "two", "shown", "repair", "minutes", "price"],
    "results": ["job", "reading", "level"],
}
NUMBERS = {"job", "year", "minutes", "price"}


def missing(why):
    print(f"skipped: {why}")
    sys.exit(MISSING)


def rows_of(tables, name):
    """Rows of an exported table with shop and year in front; empty cells are None."""
    for path in sorted(pathlib.Path(tables, name).glob("shop=*/year=*/*.csv")):
        shop, year = path.parts[-3].split("=", 1)[1], path.parts[-2].split("=", 1)[1]
        with open(path, newline="", encoding="utf-8") as file:
            lines = csv.reader(file)
            assert next(lines) == COLUMNS[name], f"{path}: other columns than {COLUMNS[name]}"
            for line in lines:
                yield [shop, int(year)] + [None if c == "" else int(c) if k in NUMBERS else c for k, c in zip(COLUMNS[name], line)]


def typed(name, text, number):
    columns = ["shop", "year"] + COLUMNS[name]
    return ", ".join(f"{c} {number if c in NUMBERS else text}" for c in columns)


def in_sqlite(tables, sql):
    db = sqlite3.connect(":memory:")
    for name in COLUMNS:
        db.execute(f"CREATE TABLE {name} ({typed(name, 'TEXT', 'INTEGER')})")
        marks = ", ".join("?" * (len(COLUMNS[name]) + 2))
        db.executemany(f"INSERT INTO {name} VALUES ({marks})", rows_of(tables, name))
    return f"SQLite {sqlite3.sqlite_version}", db.execute(sql).fetchall()


def duck():
    try:
        import duckdb
    except ImportError:
        missing("DuckDB is not installed (pip install duckdb)")
    return duckdb


def in_duckdb(tables, sql):
    duckdb = duck()
    db = duckdb.connect()
    for name in COLUMNS:
        types = "{" + ", ".join(f"'{c}': '{'BIGINT' if c in NUMBERS else 'VARCHAR'}'" for c in COLUMNS[name]) + "}"
        db.execute(
            f"CREATE TABLE {name} AS SELECT * FROM read_csv('{tables}/{name}/*/*/*.csv', hive_partitioning = true, header = true, types = {types})"
        )
    return f"DuckDB {duckdb.__version__}", db.execute(sql).fetchall()


def in_spark(tables, sql):
    try:
        from pyspark.sql import SparkSession
    except ImportError:
        missing("Spark is not installed (pip install pyspark)")
    if shutil.which("java") is None:
        missing("Spark needs Java, and there is none")
    spark = SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false")
    spark = spark.config("spark.sql.shuffle.partitions", "4").getOrCreate()
    for name in COLUMNS:
        schema = ", ".join(f"{c} {'BIGINT' if c in NUMBERS else 'STRING'}" for c in COLUMNS[name])
        read = spark.read.schema(schema).option("header", "true").option("escape", '"')
        read.csv(f"{tables}/{name}").createOrReplaceTempView(name)
    out = [tuple(r) for r in spark.sql(sql).collect()]
    version = spark.version
    spark.stop()
    return f"Spark {version}", out


def in_postgresql(tables, sql):
    places = [os.environ.get("PATH", "")] + [str(p) for p in pathlib.Path("/usr/lib/postgresql").glob("*/bin")]
    path = os.pathsep.join(places)
    initdb, ctl, psql = (shutil.which(n, path=path) for n in ("initdb", "pg_ctl", "psql"))
    if None in (initdb, ctl, psql):
        missing("PostgreSQL's server is not installed (apt-get install postgresql)")
    folder = tempfile.mkdtemp(prefix="faultodds-pg-")
    # The server refuses to run as root.
    as_user = []
    if os.geteuid() == 0:
        try:
            user = pwd.getpwnam("postgres")
        except KeyError:
            missing("PostgreSQL does not run as root, and there is no user `postgres`")
        os.chown(folder, user.pw_uid, user.pw_gid)
        as_user = ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
    data = f"{folder}/data"
    quiet = {"stdout": subprocess.DEVNULL, "check": True, "cwd": folder}
    try:
        subprocess.run(as_user + [initdb, "-D", data, "-E", "UTF8", "--locale=C", "-A", "trust", "-U", "postgres"], **quiet)
        # No port is opened: only a socket in the folder.
        options = f"-c listen_addresses='' -c unix_socket_directories='{folder}' -c fsync=off"
        subprocess.run(as_user + [ctl, "-D", data, "-w", "-l", f"{folder}/log", "-o", options, "start"], **quiet)
        try:
            ask = [psql, "-h", folder, "-U", "postgres", "-q", "-X", "-v", "ON_ERROR_STOP=1", "-c"]
            for name in COLUMNS:
                subprocess.run(ask + [f"CREATE TABLE {name} ({typed(name, 'TEXT', 'BIGINT')})"], check=True)
                text = "".join(csv_line(r) for r in rows_of(tables, name))
                copy = ask + [f"COPY {name} FROM STDIN (FORMAT csv)"]
                subprocess.run(copy, input=text.encode(), check=True)
            told = subprocess.run(ask + [f"COPY ({sql.strip().rstrip(';')}) TO STDOUT (FORMAT csv, NULL '(null)')"], check=True, capture_output=True)
            version = subprocess.run([psql, "--version"], capture_output=True, text=True).stdout.split()[2]
            rows = csv.reader(told.stdout.decode().splitlines())
            return f"PostgreSQL {version}", [tuple(r[:5]) + (int(r[5]),) for r in rows]
        finally:
            subprocess.run(as_user + [ctl, "-D", data, "-w", "-m", "immediate", "stop"], **quiet)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def csv_line(row):
    cell = lambda c: "" if c is None else '"' + str(c).replace('"', '""') + '"'
    return ",".join(map(cell, row)) + "\n"


def as_json(rows):
    """The file of counts that the program writes."""
    order = lambda r: (KINDS.index(r[0]),) + tuple(c.encode() for c in r[1:5])
    told = [list(r[:5]) + [float(r[5])] for r in sorted(rows, key=order)]
    return json.dumps({"schema": "faultodds.counts/1", "rows": told}, separators=(",", ":"), ensure_ascii=False)


def plain(path):
    """The statement without remarks, for engines that are handed it in one line."""
    return "\n".join(l for l in pathlib.Path(path).read_text(encoding="utf-8").splitlines() if not l.startswith("--")).strip().rstrip(";")


ENGINES = {"sqlite": in_sqlite, "duckdb": in_duckdb, "postgresql": in_postgresql, "spark": in_spark}


def compare(engine, tables, sql, counts):
    name, rows = ENGINES[engine](os.path.abspath(tables), plain(sql))
    ours, theirs = pathlib.Path(counts).read_text(encoding="utf-8").strip(), as_json(rows)
    jobs = sum(r[5] for r in rows if r[0] in ("cause", "pair", "unsure", "no-fault"))
    if ours == theirs:
        print(f"{name}: the same {len(rows)} rows over {jobs} jobs, to the byte")
        return 0
    mine = {tuple(r[:5]): r[5] for r in json.loads(ours)["rows"]}
    other = {tuple(r[:5]): float(r[5]) for r in rows}
    for key in sorted(set(mine) | set(other)):
        if mine.get(key) != other.get(key):
            print(f"{name}: {key}: the program counts {mine.get(key)}, the engine {other.get(key)}")
    return 1


def peak(who):
    return f"{resource.getrusage(who).ru_maxrss / 1024:.0f} MB"


def large(tables, sql, program, shops=1000, jobs=10_000_000):
    duckdb = duck()
    tables = os.path.abspath(tables)
    folder = tempfile.mkdtemp(prefix="faultodds-large-")
    try:
        db = duckdb.connect()
        db.execute("SET threads = 2; SET memory_limit = '1GB'; SET preserve_insertion_order = false")
        db.execute(f"SET temp_directory = '{folder}/spill'")
        started = time.time()
        types = "{" + ", ".join(f"'{c}': '{'BIGINT' if c in NUMBERS else 'VARCHAR'}'" for c in COLUMNS["jobs"]) + "}"
        db.execute(
            f"CREATE TABLE seed AS SELECT row_number() OVER () - 1 AS place, * EXCLUDE (shop) FROM read_csv('{tables}/jobs/*/*/*.csv', hive_partitioning = true, header = true, types = {types})"
        )
        seeds = db.execute("SELECT COUNT(*) FROM seed").fetchone()[0]
        # Each shop leans towards another stretch of the seed jobs: half of its jobs come from a third of them.
        db.execute(
            f"""COPY (SELECT 'shop-' || (i % {shops}) AS shop, seed.year, i AS job, make, model, engine, age, codes, state, one, two, shown, repair, minutes, price
            FROM (SELECT i, CASE WHEN hash(i, 1) % 2 = 0 THEN hash(i, 2) % {seeds}
                  ELSE (hash(i % {shops}, 3) + hash(i, 4) % ({seeds} // 3)) % {seeds} END AS place FROM range({jobs}) AS r (i)) AS drawn
            JOIN seed USING (place)) TO '{folder}/jobs' (FORMAT parquet, PARTITION_BY (year))"""
        )
        print(f"{jobs} jobs of {shops} shops written as Parquet: {time.time() - started:.1f} s")
        started = time.time()
        db.execute(f"CREATE VIEW jobs AS SELECT * FROM read_parquet('{folder}/jobs/*/*.parquet', hive_partitioning = true)")
        db.execute("CREATE TABLE results (shop VARCHAR, year BIGINT, job BIGINT, reading VARCHAR, level VARCHAR)")
        rows = db.execute(plain(sql)).fetchall()
        counts = pathlib.Path(folder, "counts.json")
        counts.write_text(as_json(rows), encoding="utf-8")
        counted = time.time() - started
        print(f"counted in DuckDB {duckdb.__version__}: {counted:.1f} s, {len(rows)} rows, peak {peak(resource.RUSAGE_SELF)}")
        started = time.time()
        tune = [program, "tune", "--dry-run", "--as", "shop-7", "--counts", str(counts)]
        subprocess.run(tune, check=True, stdout=subprocess.DEVNULL)
        learned = time.time() - started
        print(f"learned: {learned:.1f} s, peak {peak(resource.RUSAGE_CHILDREN)}; counted and learned {counted + learned:.1f} s")
        return 0
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def main(args):
    if len(args) == 4 and args[0] in ENGINES:
        return compare(*args)
    if 4 <= len(args) <= 6 and args[0] == "large":
        return large(*args[1:4], *map(int, args[4:]))
    print(__doc__)
    return 2


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
