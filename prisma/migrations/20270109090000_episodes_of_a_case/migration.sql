-- How the repairs of a case ended, from an index alone: cases that are alike lie anywhere in a large table, and each row of it is a page read from the disk.

-- CreateIndex
CREATE INDEX "episode_of_case_idx" ON "episode"("org_id", "case_id", "fault", "action", "intent", "started_on", "end_kind", "ended_on");
