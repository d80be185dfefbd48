-- How long work has been waiting for the worker, by kind of work; of nobody in particular. Events of an organisation wait in its outbox until its
-- fan-out has run, and the service itself may look into no outbox without being in that organisation.
CREATE FUNCTION queue_waiting() RETURNS TABLE (job text, oldest_s double precision)
  LANGUAGE plpgsql STABLE SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
  RETURN QUERY
    SELECT j.task_identifier, extract(epoch FROM now() - min(j.run_at))::double precision
      FROM graphile_worker.jobs AS j
     WHERE j.run_at <= now() AND j.attempts < j.max_attempts
     GROUP BY 1;
END
$$;
REVOKE ALL ON FUNCTION queue_waiting() FROM PUBLIC;
GRANT EXECUTE ON FUNCTION queue_waiting() TO coolback_app;
