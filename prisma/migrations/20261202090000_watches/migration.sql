-- The last look at all watched streams.

-- CreateTable
CREATE TABLE "watch_scoring" (
    "org_id" UUID NOT NULL,
    "id" UUID NOT NULL,
    "scored_at" TIMESTAMPTZ(6) NOT NULL,
    "rules" INTEGER NOT NULL,
    "document" JSONB NOT NULL,

    CONSTRAINT "watch_scoring_pkey" PRIMARY KEY ("org_id","id")
);

-- One tenant sees its own rows, in every session and for the owner too.
ALTER TABLE "watch_scoring" ENABLE ROW LEVEL SECURITY;
ALTER TABLE "watch_scoring" FORCE ROW LEVEL SECURITY;
CREATE POLICY tenant ON "watch_scoring" USING (org_id = nullif(current_setting('app.org_id', true), '')::uuid) WITH CHECK (org_id = nullif(current_setting('app.org_id', true), '')::uuid);
GRANT SELECT, INSERT, UPDATE, DELETE ON "watch_scoring" TO coolback_app;
