-- Takes `ringtrue export --format parquet -o quarry.parquet` into DuckDB: an example to start from.
-- duckdb shop.duckdb < parquet.sql
CREATE TABLE IF NOT EXISTS reading AS SELECT * FROM 'quarry.parquet' WHERE false;
INSERT INTO reading
    SELECT new.* FROM 'quarry.parquet' AS new
    ANTI JOIN reading AS old USING (inspection, revision, "check");   -- the same again is nothing
-- What each engine's rim has come to, and how fast.
SELECT engine,
       count(*) AS readings,
       max_by(true_tir_mm, opened) AS latest_mm,
       max(opened)::DATE AS day,
       regr_slope(true_tir_mm, hours_h) * 1000 AS mm_per_1000_h
FROM reading
WHERE "check" = 'rim' AND true_tir_mm IS NOT NULL
GROUP BY engine
ORDER BY latest_mm DESC;
