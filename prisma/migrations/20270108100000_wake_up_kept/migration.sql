-- Work handed on anew while the same is just being begun must run once more: whoever began it may not have seen what has changed. add_job() tells work that
-- has begun from work that waits by one statement and writes by a second; a job that was taken between the two was left as it was, and the new call with it lost.
-- Locked first, it is taken before or after, and the first statement knows which.
CREATE OR REPLACE FUNCTION enqueue_at(job text, org uuid, subject uuid, due timestamptz) RETURNS void
  LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
  called text := job || ':' || org::text || ':' || subject::text;
BEGIN
  PERFORM FROM graphile_worker._private_jobs WHERE key = called FOR UPDATE;
  PERFORM graphile_worker.add_job(
    job,
    pg_catalog.json_build_object('orgId', org, 'subjectId', subject),
    run_at := due,
    job_key := called
  );
END
$$;

CREATE OR REPLACE FUNCTION enqueue(job text, org uuid, subject uuid) RETURNS void
  LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE
  called text := job || ':' || org::text || ':' || subject::text;
BEGIN
  PERFORM FROM graphile_worker._private_jobs WHERE key = called FOR UPDATE;
  PERFORM graphile_worker.add_job(
    job,
    pg_catalog.json_build_object('orgId', org, 'subjectId', subject),
    job_key := called
  );
END
$$;
